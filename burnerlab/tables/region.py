"""The words of a region: one house term in code, keys and terminal, that of the reader on paper and page."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from functools import cache

from burnerlab.tables.reader import rows

VOWELS = frozenset("aeiou")
NO_BREAK = "\N{NO-BREAK SPACE}"


@cache
def regional_terms(region: str) -> dict[str, str]:
    """What a region calls each house term that it calls otherwise; nothing without a region.

    >>> regional_terms("eu")["orifice"], regional_terms("us")["light-back"], regional_terms("")
    ('injector', 'flashback', {})
    """
    if not region:
        return {}
    return {row["term"]: row[region] for row in rows("regional_terms") if row[region] != row["term"]}


def in_terms_of(region: str, names: Iterable[str] = ()) -> Callable[[str], str]:
    """What turns a text into the words of a region; names that a user or a publication chose stay as they are.

    >>> words = in_terms_of("eu", names=("orifice ring",))
    >>> words("Orifices: orifice ring, overfires at low rate")
    'Injectors: orifice ring, overloads at reduced rate'
    >>> words("SERVED BY NO ORIFICE")
    'SERVED BY NO INJECTOR'
    >>> in_terms_of("eu", names=("orifice market",))("A orifice market: an orifice")
    'A orifice market: an injector'
    >>> in_terms_of("us")("until a responsible body accepts it")
    'until an authority having jurisdiction accepts it'
    >>> in_terms_of("us")("off centre; call the fire service")
    'off center; call the fire department (911)'
    """
    terms = regional_terms(region)
    if not terms:
        return str
    any_term = "|".join(re.escape(term) for term in sorted(terms, key=len, reverse=True))
    term = re.compile(rf"(?:(?<![\w-])(?=\w)|(?=:))(?:{any_term})", re.IGNORECASE)
    kept = sorted({one for one in names if term.search(one)}, key=len, reverse=True)
    names = [
        re.escape(one).replace(r"\ ", f"[ {NO_BREAK}]") for one in kept
    ]  # on paper a figure keeps to its unit
    no_name = "".join(f"(?!{one})" for one in names)  # a letter before a name is no article
    article = rf"(?P<article>\ban? {no_name})?"
    either = re.compile("|".join((*names, f"{article}(?P<term>{term.pattern})")), re.IGNORECASE)
    own = frozenset(kept)
    by_word = {term.lower(): made for term, made in terms.items()}

    def word(hit: re.Match[str]) -> str:
        if hit[0].replace(NO_BREAK, " ") in own or (hit["term"] is None and hit[0].lower() not in by_word):
            return hit[0]
        text = hit["term"] or hit[0]
        made = by_word[text.lower()]
        made = made.upper() if text.isupper() else made[:1].upper() + made[1:] if text[:1].isupper() else made
        if hit["article"] is None or (text[0].lower() in VOWELS) == (made[0].lower() in VOWELS):
            return (hit["article"] or "") + made
        return hit["article"][0] + ("n " if made[0].lower() in VOWELS else " ") + made

    return lambda text: either.sub(word, text)
