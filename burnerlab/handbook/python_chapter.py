"""Chapter of the Python names: signature, text and example of each, from its docstring."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator
from dataclasses import is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any

import burnerlab
from burnerlab.handbook.markdown_text import code, escaped

INTRODUCTION = """`import burnerlab as bl`: the public names, by the room each lives in. A parameter takes a number
in SI, a text with its unit or a quantity of pint; results are in SI, and a name carries its unit where a reader could
doubt. The examples run with the tests."""
PARAMETER = re.compile(r"^\w+(, \w+)* : ", re.MULTILINE)
WIDTH = 88


def python_names() -> str:
    """Every public name, by room."""
    stub = ast.parse(Path(burnerlab.__file__).with_suffix(".pyi").read_text(encoding="utf-8"))
    rooms: dict[str, list[str]] = {}
    for line in stub.body:
        if isinstance(line, ast.ImportFrom):
            rooms.setdefault(str(line.module).split(".")[1], []).extend(one.name for one in line.names)
    parts = [INTRODUCTION]
    for room, names in rooms.items():
        parts.append(f"## {room}")
        parts += [_name(name) for name in sorted(names, key=str.lower)]
    return "\n\n".join(parts)


def _name(name: str) -> str:
    found = getattr(burnerlab, name)
    return "\n\n".join(
        [
            f"### {escaped(name)}",
            f"```text\n{_signature(name, found)}\n```",
            *_paragraphs(inspect.getdoc(found) or ""),
        ]
    )


def _signature(name: str, member: Any) -> str:
    """How it is called, a parameter a line where it is long; types as they are written in the code."""
    try:
        signature = inspect.signature(member)
    except (TypeError, ValueError):
        return name
    parameters, marks = list(signature.parameters.values()), []
    for place, one in enumerate(parameters):
        before = parameters[place - 1].kind if place else None
        if one.kind is one.KEYWORD_ONLY and before not in (one.KEYWORD_ONLY, one.VAR_POSITIONAL):
            marks.append("*")
        marks.append(_parameter(one))
    returns = signature.return_annotation
    end = ")" if returns is inspect.Signature.empty else f") -> {_type(returns)}"
    whole = f"{name}({', '.join(marks)}{end}"
    if len(whole) <= WIDTH:
        return whole
    return "\n".join([f"{name}(", *(f"    {one}," for one in marks), end])


def _parameter(parameter: inspect.Parameter) -> str:
    """A parameter with its type and what holds without it."""
    stars = "*" if parameter.kind is parameter.VAR_POSITIONAL else ""
    stars = "**" if parameter.kind is parameter.VAR_KEYWORD else stars
    type_ = "" if parameter.annotation is parameter.empty else f": {_type(parameter.annotation)}"
    has_default = parameter.default is not parameter.empty
    sign = " = " if type_ else "="
    return f"{stars}{parameter.name}{type_}" + (f"{sign}{_default(parameter.default)}" if has_default else "")


def _type(annotation: Any) -> str:
    """A type as it is written in the code, without what the project file says of a key.

    >>> _type("Annotated[float, key.length('Depth', '3 mm')]"), _type("str | None")
    ('float', 'str | None')
    """
    text = inspect.formatannotation(annotation) if not isinstance(annotation, str) else annotation
    tree = ast.parse(text.strip("'\""), mode="eval").body
    if isinstance(tree, ast.Subscript) and ast.unparse(tree.value) == "Annotated":
        assert isinstance(tree.slice, ast.Tuple)
        tree = tree.slice.elts[0]
    return ast.unparse(tree).replace("'", "")


def _default(value: Any) -> str:
    """A default as code has it; of a thing with fields its class alone."""
    if isinstance(value, Enum):
        return f"{type(value).__name__}.{value.name}"
    return f"{type(value).__name__}(...)" if is_dataclass(value) else repr(value).replace("'", '"')


def _paragraphs(text: str) -> Iterator[str]:
    """A docstring as Markdown: examples as blocks, parameters as a list, tables of text as they are."""
    for part in re.split(r"\n\s*\n", text):
        if part.lstrip().startswith(">>>"):
            yield f"```pycon\n{inspect.cleandoc(part)}\n```"
        elif part.startswith(" ") or "===" in part or "  " in part.strip().replace("\n    ", " "):
            yield f"```text\n{part}\n```"
        elif PARAMETER.match(part):
            lines = re.sub(r"\n\s+", " ", part).split("\n")
            yield "\n".join(f"- {_marked(one)}" for one in lines)
        else:
            yield _marked(" ".join(part.split()))


def _marked(text: str) -> str:
    pieces = re.split(r"``(.+?)``", text)
    return "".join(code(piece) if place % 2 else escaped(piece) for place, piece in enumerate(pieces))
