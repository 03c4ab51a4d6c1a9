"""The sheet: sections of printed rows that every format renders."""
