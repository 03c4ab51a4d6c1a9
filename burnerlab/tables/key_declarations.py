"""What the declarations of the keys of a file say to people, read from the code that declares them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

from burnerlab.tables.literal import call_name, is_prose

SI_ENDINGS = ("_W_per_mK", "_kg", "_m2", "_rad", "_Pa", "_K", "_W", "_m")
"""Units at the end of a field's name that the file leaves out."""
KEYS, GAS_KEYS = ("key", "Key"), ("_key", "_heating_value", "_fractions")  # declare keys of a file, of a gas
NAME, ROWS = "name", "rows_of"  # a kind of key whose example is a word, unless it names a row
SHORTEST = 4  # letters of a word that is no tag or sign
WORD = re.compile(r"[^\W\d_]{2,}")


def key_name(name: str) -> str:
    """What the file calls a field: its name without the unit.

    >>> key_name("gas_temperature_K"), key_name("conductivity_W_per_mK"), key_name("note")
    ('gas_temperature', 'conductivity', 'note')
    """
    ending = next((ending for ending in SI_ENDINGS if name.endswith(ending)), "")
    return name.removesuffix(ending)


def key_label(name: str) -> str:
    """A key in words.

    >>> key_label("row_pitch"), key_label("place[1]")
    ('row pitch', 'place 1')
    """
    return re.sub(r"\[(\d+)\]", r" \1", name).replace("_", " ")


def key_texts(module: ast.Module) -> Iterator[str]:
    """Labels, help and examples in words of the keys that a module declares.

    >>> code = 'class Ports:\\n    row_pitch_m: Annotated[float, key.length("Distance of rows")]'
    >>> list(key_texts(ast.parse(code)))
    ['row pitch', 'Distance of rows']
    """
    found = list(_declared(module))
    yield from found
    if found:  # else what stands there is no key's
        yield from choice_texts(module)


def choice_texts(module: ast.Module) -> Iterator[str]:
    """The words that a key may be, of each Literal or tuple of words that a module names.

    >>> list(choice_texts(ast.parse('Per = Literal["mole", "liquid volume"]')))
    ['mole', 'liquid volume']
    """
    for node in module.body:
        if isinstance(node, ast.Assign):
            yield from _choice(node.value)


def _declared(module: ast.Module) -> Iterator[str]:
    for node in ast.walk(module):
        if isinstance(node, ast.ClassDef):
            for field in node.body:
                if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
                    calls = (one for one in ast.walk(field.annotation) if isinstance(one, ast.Call))
                    for call in filter(_is_key, calls):
                        yield from _texts(key_name(field.target.id), call)
        elif isinstance(node, ast.Assign) and isinstance(node.value, ast.Subscript):  # of several fields
            for call in (one for one in ast.walk(node.value) if isinstance(one, ast.Call) and _is_key(one)):
                yield from _texts("", call)
        elif isinstance(node, ast.Dict):
            for name, value in zip(node.keys, node.values, strict=True):
                if (
                    isinstance(name, ast.Constant)
                    and isinstance(value, ast.Call)
                    and call_name(value) in GAS_KEYS
                ):
                    yield from _texts(str(name.value), value)


def _texts(name: str, call: ast.Call) -> Iterator[str]:
    named = {one.arg: one.value for one in call.keywords}
    own = named.get("name")
    label = key_label(str(own.value) if isinstance(own, ast.Constant) else name)
    if WORD.search(label):
        yield label
    is_word = call_name(call) == NAME and ROWS not in named
    for value in (*call.args, *(one for role, one in named.items() if role not in (NAME, ROWS))):
        text = value.value if isinstance(value, ast.Constant) else None
        if isinstance(text, str) and is_prose(text, is_read=is_word and len(text) >= SHORTEST):
            yield text


def _choice(value: ast.expr) -> list[str]:
    """The words that a key may be, of a Literal or a tuple of them; none of anything else."""
    words = value.slice if isinstance(value, ast.Subscript) and _is_literal(value) else value
    every = words.elts if isinstance(words, ast.Tuple) else []
    texts = [one.value for one in every if isinstance(one, ast.Constant) and isinstance(one.value, str)]
    return texts if len(texts) == len(every) and all(map(str.islower, texts)) else []


def _is_literal(value: ast.Subscript) -> bool:
    return isinstance(value.value, ast.Name) and value.value.id == "Literal"


def _is_key(call: ast.Call) -> bool:
    of = getattr(call.func, "value", call.func)
    return isinstance(of, ast.Name) and of.id in KEYS
