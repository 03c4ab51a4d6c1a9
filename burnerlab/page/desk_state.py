"""The texts of the desk: each under its digest, with the one before it, so that nothing typed is lost."""

from __future__ import annotations

import re
import time
from collections import OrderedDict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, cached_property, lru_cache
from pathlib import Path
from threading import RLock
from types import MappingProxyType

from burnerlab.appliance.project.model import REGIONS, Appliance, system_of_region
from burnerlab.appliance.project.project_text import ProjectContent, ProjectText
from burnerlab.page.desk_file import UNNAMED, Draft, FileContent, content_of, digest_of, draft_of, write_text
from burnerlab.page.desk_merge import Merge, merge_of, written
from burnerlab.page.desk_queries import kind_of, pattern_of
from burnerlab.page.form import RefusedError
from burnerlab.page.security import LIVE_POLICY, Gate, Limiter
from burnerlab.quantity import System
from burnerlab.tables.problem import Problem, UserError

MOST_ENTRIES = 1000
REFUSED_SECONDS = 60.0  # how long the other windows show that one was refused
MOST_KEYS = 10_000  # whose entry is remembered: those of every burner and market of some large files
TYPING_SECONDS = 20.0  # writing on in the same field within it is one step of Undo
MOST_BEFORE = 20  # texts that are looked through for a value before
LARGEST_FORM = 128 * 1024  # bytes
LISTED = re.compile(r"(?:gone )?(?:burner|market)\[\d+\]")
EXAMPLES = ("gas", "pressure", "rate")  # last word of the keys that a blank page fills in
REGION = "appliance.region"


def desk_gate() -> Gate:
    """The guard of the desk: this machine alone, and up to six edits a second while somebody types."""
    return Gate(
        host="127.0.0.1",
        site="desk",
        policy=LIVE_POLICY,
        largest_body=LARGEST_FORM,
        typing=Limiter(burst=60.0, per_second=12.0),
    )


@dataclass(frozen=True)
class DeskEntry:
    """A text of the appliance: what it was made from, and what the reader says of it."""

    text: ProjectText
    parent: str = ""  # digest of the text before; "" for a text that was read
    figures: str = ""  # digest of the text whose figures stand on its page; "" where none before it reads
    keys: frozenset[str] = frozenset()  # what was written since the parent
    made_s: float = 0.0

    @cached_property
    def content(self) -> ProjectContent:
        """The appliance, or every problem of the text."""
        return self.text.content()

    @property
    def digest(self) -> str:
        return self.text.digest

    @property
    def appliance(self) -> Appliance | None:
        return self.content.appliance

    @property
    def problems(self) -> tuple[Problem, ...]:
        return self.content.problems


@cache
def blank_text(system: System = "US") -> ProjectText:
    """What a desk without a file begins with: example values, and no basis of the rates, which nobody may assume.

    Its gases and pressures are those usual where the units are.
    """
    text = ProjectText.blank("" if system == "US" else REGIONS[1]).with_market()
    return text.with_values({"appliance.rating": "", "appliance.region": ""})


class BehindError(Exception):
    """A window writes on a text that another window has changed since: what it would have written is not taken."""

    def __init__(self, before: DeskEntry, newest: DeskEntry, values: Mapping[str, str]) -> None:
        super().__init__()
        self.before, self.newest, self.values = before, newest, values


@dataclass(frozen=True, slots=True)
class WindowRefusal:
    """That a window behind was refused: which, and until when the others show it."""

    behind: BehindError
    window: str
    until_s: float


@lru_cache(maxsize=MOST_KEYS)
def _entry_of(key: str) -> str:
    """The burner or market of a key; "" for any other."""
    found = LISTED.match(key)
    return found[0] if found else ""


def _renumbered(then: Mapping[str, str], now: Mapping[str, str]) -> dict[str, str]:
    """Values of an earlier text under the numbers that its burners and markets have now.

    An entry is the one of the same name, else, where neither has another, the one of the same number. One that is gone
    keeps its values under a number that none has.

    >>> then = {"burner[1].name": "left", "burner[2].name": "right"}
    >>> now = {"burner[1].name": "left", "burner[2].name": "left 2", "burner[3].name": "right"}
    >>> _renumbered(then, now)
    {'burner[1].name': 'left', 'burner[3].name': 'right'}
    """
    old, new = _names(then), _names(now)
    by_name = {(_table(one), name): one for one, name in new.items()}
    if old == new and len(by_name) == len(new):
        return dict(then)
    places = {one: by_name[_table(one), name] for one, name in old.items() if (_table(one), name) in by_name}
    free = new.keys() - places.values()
    places |= {one: one for one in old if one not in places and one in free}
    return {
        key if not (own := _entry_of(key)) else places.get(own, f"gone {own}") + key[len(own) :]: text
        for key, text in then.items()
    }


def _table(entry: str) -> str:
    return entry.partition("[")[0]


def _names(values: Mapping[str, str]) -> dict[str, str]:
    """The name of every burner and market by its entry, in the order of the file."""
    entries = dict.fromkeys(filter(None, map(_entry_of, values)))
    return {one: values.get(f"{one}.name", "") for one in entries}


@dataclass(slots=True)
class Desk:
    """The desk as it was started: one file, or none, and every text since."""

    path: Path | None
    gate: Gate = field(default_factory=desk_gate)
    system: System = "metric"
    preferred_units: System | None = (
        None  # by a setting, an option or the button of the page: no region changes them
    )
    written_units: System | None = None  # with the command, for every paper; without them those of its region
    stock: Path | None = None  # of own orifices, in place of that of the file
    record: Path | None = None  # of the bench, whose measured units are shown
    paper: str = ""  # size that the user has chosen; "" is that of the units of a paper's reader
    models: str = ""  # address of the start page of several models; "" where this is the only one
    entries: OrderedDict[str, DeskEntry] = field(default_factory=OrderedDict)
    after: dict[str, str] = field(default_factory=dict)  # the newest text made from one, for Redo
    reading_of: dict[str, int] = field(
        default_factory=dict
    )  # by text: the reading of the file it was made from
    file_texts: list[ProjectText] = field(
        default_factory=list
    )  # by reading: the file, as read or written last
    newest: str = ""
    window: str = ""  # the one that wrote the newest text; "" for none with a script
    chosen: tuple[str, tuple[int, ...]] = (
        "",
        (),
    )  # what is opened on its page, and the burners that burn together
    refused: WindowRefusal | None = None  # the newest one, which the other windows show
    saved_entry: DeskEntry | None = None  # what the file holds, as it was read or written last
    file_digest: str = ""  # of the bytes then
    draft: Draft = field(init=False)
    accepted: set[tuple[str, str]] = field(
        default_factory=set
    )  # example values that the user has taken as own
    earlier: ProjectText | None = None  # the draft of a desk before, until it is taken or dropped
    begun_from: ProjectText | None = None  # the file as that draft was begun from; None where it is so still
    lock: RLock = field(default_factory=RLock)

    def __post_init__(self) -> None:
        self.draft = Draft(draft_of(self.path or UNNAMED))
        self.read_file()
        found = content_of(self.draft.path)
        self.draft.digest = found.digest
        if found.text and found.text != self.newest_entry.text.text:
            self.earlier = self.text_of(found.text)
            self.draft.is_waiting = True
            begun = content_of(self.draft.begun_path).text
            if begun and self.saved_entry is not None and begun != self.newest_entry.text.text:
                self.begun_from = self.text_of(begun)

    @property
    def draft_merge(self) -> Merge | None:
        """What was typed in a draft together with the file as it is now; None where they do not join."""
        if self.earlier is None or self.begun_from is None:
            return None
        return merge_of(self.begun_from, self.earlier, self.newest_entry.text)

    def merge_with_file(self, entry: DeskEntry, file: FileContent) -> Merge | None:
        """What was typed on a page together with its file as another program wrote it; None where they do not join."""
        begun = self.begun_text(entry)
        if begun is None or not file.digest:
            return None
        now = self.text_of(file.text)
        return merge_of(begun, entry.text, now) if now.values() else None

    def is_of_former_file(self, entry: DeskEntry) -> bool:
        """Whether a text was made from the file as it was before another program wrote it and it was opened anew."""
        return self.reading_of.get(entry.digest, 0) < len(self.file_texts) - 1

    def begun_text(self, entry: DeskEntry) -> ProjectText | None:
        """The file that a text was made from; None where there was none."""
        return self.file_texts[self.reading_of.get(entry.digest, 0)] if self.saved_entry is not None else None

    def is_known_file(self, entry: DeskEntry, digest: str, known: str) -> bool:
        """Whether a text may be written over a file: its page knows that one, or this desk wrote it in its line.

        digest : of the file now; known : of the file as the page knows it
        """
        return digest == known or (digest == self.file_digest and not self.is_of_former_file(entry))

    def take_both(
        self, entry: DeskEntry, file_digest: str, choices: Mapping[str, str], window: str = ""
    ) -> DeskEntry | None:
        """The file as it is now with what was typed on a page, as the newest text; the file itself stays.

        file_digest : of the file that the choices were made on. None where it is another by now, or where a choice is
        not made. Raises UserError for a file that is no text, BehindError where another window wrote since.
        """
        with self.lock:
            self._claim(entry, window, "", {})
            file = content_of(self.path) if self.path else FileContent()
            merge = self.merge_with_file(entry, file)
            text = None if merge is None or file.digest != file_digest else merge.text(choices)
            return None if text is None else self.add(self.read_file(), text, window=window)

    @property
    def name(self) -> str:
        """Of the file, as it is printed."""
        return self.path.name if self.path else ""

    def system_of(self, entry: DeskEntry) -> System:
        """The units of a text's page: those chosen, else those of the region it names, else those of this desk."""
        return self.preferred_units or system_of_region(entry.text.values().get(REGION, "")) or self.system

    @property
    def is_file_as_known(self) -> bool:
        """Whether the file holds the bytes that this desk read or wrote last."""
        return self.path is None or digest_of(self.path) == self.file_digest

    @property
    def whereabouts(self) -> str:
        """Where the newest text is, looked up on the disk."""
        self.draft.flush()
        name = self.name or "the file"
        if self.is_saved(self.newest_entry) and self.is_file_as_known:
            return f"What the desk took last is in {name}."
        draft = self.draft.path
        if content_of(draft).text == self.newest_entry.text.text:
            return (
                f"What the desk took last is not in {name}, but in the draft {draft.name} in the same folder."
            )
        return f"What the desk took last is neither in {name} nor in the draft: copy it from the page first."

    @property
    def newest_entry(self) -> DeskEntry:
        return self.entries[self.newest]

    @property
    def file(self) -> str:
        """Where tables of the user's own are looked for, and what complaints print."""
        return str(self.path or UNNAMED)

    def text_of(self, text: str) -> ProjectText:
        return ProjectText(text, self.file, self.stock)

    def read_file(self) -> DeskEntry:
        """The file as it is now, as an entry without one before it. Raises UserError for what is no TOML."""
        found = content_of(self.path) if self.path else FileContent()
        with self.lock:
            text = self.text_of(found.text) if found.digest else blank_text(self.system)
            entry = self._store(
                DeskEntry(replace(text, file=self.file, stock=self.stock), made_s=time.monotonic())
            )
            if not self.file_texts or found.digest != self.file_digest:
                self.file_texts.append(entry.text)
            self.reading_of[entry.digest] = len(self.file_texts) - 1
            self.saved_entry, self.file_digest = (entry if found.digest else None), found.digest
            self.newest, self.window = entry.digest, ""
            self.accepted.clear()
        return entry

    def open_file(self) -> DeskEntry:
        """The file as it is now in place of what was typed, whose draft goes with it."""
        entry = self.read_file()
        if not self.draft.is_waiting:
            self.draft.drop()
        return entry

    @property
    def text_on_disk(self) -> ProjectText:
        """The file as it is now; the text that stands for it where there is none."""
        found = content_of(self.path) if self.path else FileContent()
        return self.text_of(found.text) if found.digest else blank_text(self.system)

    def entry(self, digest: str) -> DeskEntry:
        """The text of a digest. Raises RefusedError (410) for one that is not known any more."""
        with self.lock:
            found = self.entries.get(digest)
            if found is None:
                sentence = (
                    "This entry is not known any more: the desk was started again, or a thousand entries came after "
                    "it. What was typed last is in the draft or in the file."
                )
                raise RefusedError(410, sentence)
            self.entries.move_to_end(digest)
            return found

    def text_with(self, base: str, values: Mapping[str, str]) -> tuple[ProjectText, dict[str, str]]:
        """The text of ``base`` with other values, and those that differ. Nothing is kept.

        Raises RefusedError (422) for a key that no page may write.
        """
        before = self.entry(base)
        present = before.text.values()
        changed = {key: text for key, text in values.items() if text != present.get(key, "")}
        if REGION in changed and self.saved_entry is None:
            changed = {**self._examples_for(before, changed), **changed}
        try:
            return written(before.text, changed, present), changed
        except UserError as error:
            raise RefusedError(422, "; ".join(problem.text() for problem in error.problems)) from None

    def write(self, base: str, values: Mapping[str, str], window: str = "") -> DeskEntry:
        """The text of ``base`` with other values, as the newest; ``window``: the one that it is typed in.

        Raises RefusedError (422) for a key that no page may write, BehindError where another window wrote since.
        """
        text, changed = self.text_with(base, values)
        return self.add(self.entry(base), text, changed, window) if changed else self.entry(base)

    def add(
        self, before: DeskEntry, text: ProjectText, values: Mapping[str, str] | None = None, window: str = ""
    ) -> DeskEntry:
        """A text made from another; writing on in the same field goes back to what stood before the writing.

        Raises BehindError where another window than this one wrote since ``before``.
        """
        now = time.monotonic()
        keys = frozenset(values or ())
        with self.lock:
            self._claim(before, window, text.digest, values or {})
            known = self.entries.get(text.digest)
            if known is not None:
                entry = self._store(known)
            else:
                is_same = bool(keys) and keys == before.keys and now - before.made_s < TYPING_SECONDS
                parent = before.parent if is_same and before.parent else before.digest
                figures = before.digest if before.appliance is not None else before.figures
                entry = self._store(DeskEntry(text, parent, figures, keys, now))
                self.after[parent] = entry.digest
            readings = (self.reading_of.get(one.digest, 0) for one in (before, entry))
            self.reading_of[entry.digest] = max(readings)
            self.newest = entry.digest
        self._keep_draft(entry)
        return entry

    def go_to(self, before: DeskEntry, digest: str, window: str = "") -> DeskEntry:
        """Another text of this desk as the newest: the one before, or after. Raises BehindError as ``add`` does."""
        entry = self.entry(digest)
        with self.lock:
            self._claim(before, window, digest, {})
            self.newest = entry.digest
        self._keep_draft(entry)
        return entry

    def is_behind(self, digest: str, window: str = "") -> bool:
        """Whether another window than this one wrote since a text."""
        return digest != self.newest and not (window and window == self.window)

    def _claim(self, before: DeskEntry, window: str, digest: str, values: Mapping[str, str]) -> None:
        """Let one window write at a time: another one must have seen its text first."""
        if self.is_behind(before.digest, window) and digest != self.newest:
            behind = BehindError(before, self.newest_entry, values)
            self.refused = WindowRefusal(behind, window, time.monotonic() + REFUSED_SECONDS)
            raise behind
        self.window = window
        if window and self.refused is not None and window == self.refused.window:
            self.refused = None

    def _keep_draft(self, entry: DeskEntry) -> None:
        if self.is_saved(entry):
            if not self.draft.is_waiting:
                self.draft.drop()
        else:
            begun = self.begun_text(entry)
            self.draft.keep(entry.text.text, "" if begun is None else begun.text)

    def _store(self, entry: DeskEntry) -> DeskEntry:
        entry = self.entries.get(entry.digest, entry)  # with what was worked out of it
        self.entries[entry.digest] = entry
        self.entries.move_to_end(entry.digest)
        while len(self.entries) > MOST_ENTRIES:
            gone, _ = self.entries.popitem(last=False)
            self.after.pop(gone, None)
            self.reading_of.pop(gone, None)
        return entry

    def undo(self, entry: DeskEntry) -> str:
        """The address part of the text before; "" where there is none."""
        return entry.parent if entry.parent in self.entries else ""

    def redo(self, entry: DeskEntry) -> str:
        """The digest of the newest text that was made from this one; "" where there is none."""
        found = self.after.get(entry.digest, "")
        return found if found in self.entries else ""

    def figures_of(self, entry: DeskEntry) -> DeskEntry | None:
        """The entry whose figures a page shows: its own, else the last before it that reads."""
        if entry.appliance is not None:
            return entry
        return self.entries.get(entry.figures)

    def changed_keys(self, entry: DeskEntry) -> frozenset[str]:
        """What differs from the file as it was last read or saved."""
        if self.saved_entry is None:
            return frozenset()
        now, then = entry.text.values(), self.saved_entry.text.values()
        then = _renumbered(then, now)
        return frozenset(key for key in now.keys() | then.keys() if now.get(key, "") != then.get(key, ""))

    def values_before(self, entry: DeskEntry) -> dict[str, str]:
        """What stood in each rate and pressure: in the file as last read or saved, else before the newest change of it.

        Keys are those that the burners and markets have now. Example values of a blank page are none of the user's.
        """
        now = entry.text.values()
        keys = [key for key in now if kind_of(key) is not None]
        saved = self.saved_entry.text.values() if self.saved_entry is not None else {}
        found = {key: text for key, text in _renumbered(saved, now).items() if key in keys and text}
        examples = {
            key: text for key, text in blank_text(self.system).values().items() if kind_of(key) is not None
        }
        one = entry
        for _ in range(MOST_BEFORE):
            rest = [key for key in keys if key not in found]
            if not rest or one.parent not in self.entries:
                break
            one = self.entries[one.parent]
            values = _renumbered(one.text.values(), now)
            found |= {
                key: values[key]
                for key in rest
                if values.get(key) not in (None, "", now[key], examples.get(key))
            }
        return found

    def examples_of(self, entry: DeskEntry) -> tuple[str, ...]:
        """Keys that hold an example of the blank page still, which the user has not taken as own; none of a file."""
        if self.saved_entry is not None:
            return ()
        values = entry.text.values()
        shown = set(self._examples(values.get(REGION, "")).items()) - self.accepted
        return tuple(
            key
            for key, text in values.items()
            if key.rpartition(".")[2] in EXAMPLES and (pattern_of(key), text) in shown
        )

    def _examples(self, region: str) -> dict[str, str]:
        """Example values of the blank page of a region, by pattern; without one those of the units of this desk."""
        system = system_of_region(region) or self.system
        return {pattern_of(key): text for key, text in blank_text(system).values().items()}

    def _examples_for(self, before: DeskEntry, changed: Mapping[str, str]) -> dict[str, str]:
        """The examples that nobody has changed as they are where the appliance is sold; what was typed stays typed."""
        of_region, values = self._examples(changed[REGION]), before.text.values()
        kept = set(self.examples_of(before))
        typed = {
            (pattern_of(key), text)
            for key, text in {**values, **changed}.items()
            if key not in kept or key in changed
        }
        with self.lock:
            self.accepted |= typed & set(of_region.items())
        return {key: of_region[pattern_of(key)] for key in kept if pattern_of(key) in of_region}

    def accept_examples(self, entry: DeskEntry, typed: Collection[str] | None = None) -> None:
        """Take the example values of a text as the user's own; typed : keys of those alone, all unless given"""
        values = entry.text.values()
        with self.lock:
            self.accepted |= {
                (pattern_of(key), values[key])
                for key in self.examples_of(entry)
                if typed is None or key in typed
            }

    def change_count(self, entry: DeskEntry) -> int:
        """Changes since the file was last read or saved; a new or a removed burner or market is one, an order too."""
        if self.saved_entry is None:
            return 0
        now, then = entry.text.values(), self.saved_entry.text.values()
        matched = _renumbered(then, now)
        own = {_entry_of(key) for key in now}, {_entry_of(key) for key in matched}
        alone = (own[0] ^ own[1]) - {""}
        count = len(alone) + sum(_entry_of(key) not in alone for key in self.changed_keys(entry))
        return count or int(now != then)

    def is_saved(self, entry: DeskEntry) -> bool:
        return self.saved_entry is not None and self.saved_entry.digest == entry.digest

    def save(self, entry: DeskEntry, window: str = "") -> None:
        """Write the file. The caller has looked whether another program wrote it.

        Raises UserError, and BehindError where another window wrote since.
        """
        assert self.path is not None
        with self.lock:
            self._claim(entry, window, entry.digest, {})
            self.file_digest = write_text(self.path, entry.text.text)
            self.saved_entry = entry
            self.file_texts[-1] = entry.text
            self.reading_of[entry.digest] = len(self.file_texts) - 1
            self.newest = entry.digest
            self.draft.drop()

    def decide(self, act: str, choices: Mapping[str, str] = MappingProxyType({})) -> DeskEntry | None:
        """Take the draft of a desk before, as the newest text, or drop it; None where a choice is not made.

        act : "take" as it is, "both" with what was changed in the file since it was begun; any other drops it
        choices : of each entry that both changed, whose value holds
        """
        with self.lock:
            text = self.earlier
            if act == "both":
                merge = self.draft_merge
                text = None if merge is None else merge.text(choices)
                if text is None:
                    return None
            earlier, self.earlier, self.begun_from = text, None, None
            entry = self.newest_entry
            self.draft.is_waiting = False
            if earlier is None:
                return entry
            if act in ("take", "both"):
                return self.add(entry, earlier)
            self.draft.drop()
            return entry
