"""What was read at a meter, a scale, a manometer or an analyser, and the heat input that follows."""
