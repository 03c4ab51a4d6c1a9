"""The literals of a module that a reader gets to see, each as the template that it is."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from itertools import chain

PROSE = re.compile(
    r"[^\W\d_]{2,}[^\n]* [^\n]*\S|\S[^\n]* [^\n]*[^\W\d_]{2,}"
)  # two words, one of them of letters
TITLE = re.compile(r"[A-Z][a-z]+(?:-[a-z]+)?")
WORD = re.compile(r"[^\W\d_]{2,}(?:-[^\W\d_]+)*")
EXPRESSION = r"\\|\(\?[:!=<#P]|\*\*"  # the signs of a regular expression, or of a unit of pint
NO_PROSE = re.compile(rf"[<>{{}}]|{EXPRESSION}|^\S*_\S*$|(?<! )=|=(?! )|::|://|\.py\b|--\w|^\W*$")
NO_SENTENCE = re.compile(rf"{EXPRESSION}|^\S*_\S*$|\$|\b[A-Z]{{2,}}\(|^['\"]?[!=]|[/*^]$|^[/*^]")
"""Of a formatted text that is a key, a regular expression or the formula of a cell."""
FORMAT = re.compile(r"\{(\w*)(?:[!:][^{}]*)?\}")  # a place of str.format
SPEAKING = frozenset(
    ("title", "text", "words", "label", "lead", "caption", "also", "help", "note", "heading", "what", "why", "kind")
)  # fmt: skip
"""Arguments and names whose value is read even where it is one small word."""
SILENT_CALLS = frozenset(
    (
        "get", "compile", "encode", "decode", "getattr", "hasattr", "startswith", "endswith", "removesuffix", "cast",
        "removeprefix", "TypeVar", "import_module", "get_template", "KeyError", "ValueError", "AssertionError",
        "TypeError", "RuntimeError", "cite", "rows", "column_of", "bench_limit", "Problem", "problem", "UserError",
        "fullmatch", "address", "figure", "carry", "supply_figure", "constants", "PrintScale", "add_format",
    )
)  # fmt: skip
"""Calls whose texts name something, or are for whoever mends the program or the file."""
SILENT_ARGUMENTS = frozenset(
    (
        "accepted", "fix", "key", "formula", "pattern", "unit", "ha", "va", "loc", "textcoords", "color", "linestyle",
        "side", "place", "list",
    )
)  # fmt: skip
SILENT_VARIABLES = frozenset(("accepted", "fix", "key", "name", "names"))
"""Those whose value names something, draws, or mends a file."""
DECLARATIONS = frozenset(("output", "computed_output"))
"""Calls whose first text is the label of a figure: the head of a column, read even where it is one small word."""
Key = str
KEY = "Key"
"""The alias of ``str`` in what a function returns where its texts are keys and nobody reads them."""


WORDLESS = (ast.Name, ast.expr_context, ast.operator, ast.cmpop, ast.unaryop, ast.boolop, ast.alias)
"""Nodes that hold no text."""
OF_PROBLEMS = frozenset(("Problem", "problem", "UserError", "accepted", "fix"))
"""Of what is silent, what a page prints beside the field that is wrong."""


def literals(module: ast.Module, *, has_heads: bool = False, has_problems: bool = False) -> Iterator[str]:
    """The template of each text of a module that may be printed, in the order of the code.

    has_problems : what it says of a wrong entry is read on a page
    has_heads : the labels that its results declare with ``output`` are heads of columns on a paper

    >>> list(literals(ast.parse('a = f"set {pressure:.3g} now"; b = d["a key of ours"]; c = x if y else "Not set"')))
    ['set {pressure} now', 'Not set']
    """
    found: dict[str, None] = {}
    labels = (
        node for node in ast.walk(module) if isinstance(node, ast.Call) and call_name(node) in DECLARATIONS
    )
    heads = (
        (text for node in labels for text in _within(node.args[0], is_read=True, problems=frozenset()))
        if has_heads
        else ()
    )
    for text in chain(
        _within(module, is_read=False, problems=OF_PROBLEMS if has_problems else frozenset()), heads
    ):
        for line in _numbered(text).split("\n"):
            if bare := line.strip().lstrip(",;: ").rstrip(",; "):
                found.setdefault(bare)
    yield from found


def _numbered(text: str) -> str:
    """A template whose places have a name each, and one that stands twice the same."""
    known = list[str]()

    def place(hit: re.Match[str]) -> str:
        known.append(hit[1] or _unused("value", known))
        return f"{{{known[-1]}}}"

    return FORMAT.sub(place, text)


def _within(node: ast.AST, *, is_read: bool, problems: frozenset[str]) -> Iterator[str]:
    """Texts of a node and of what it holds; is_read : a single small word in it is read as well

    problems : names of calls, arguments and variables that are not silent here
    """
    if isinstance(node, ast.Constant):
        if isinstance(node.value, str) and is_prose(node.value, is_read=is_read):
            yield node.value
        return
    if parts := _parts(node):
        template = template_of(parts)
        bare = re.sub(r"\{\w+\}", "", template)
        if WORD.search(bare) and not NO_SENTENCE.search(bare):
            yield template
        for part in parts:
            if not isinstance(part, str):
                yield from _within(part, is_read=True, problems=problems)
        return
    if _is_silent_whole(node, problems):
        return
    for name in node._fields:
        child = getattr(node, name, None)
        for each in child if isinstance(child, list) else (child,):
            if isinstance(each, WORDLESS) or not isinstance(each, ast.AST):
                continue
            if not _is_silent(node, name, each, problems):
                yield from _within(each, is_read=_speaks(node, name, is_read=is_read), problems=problems)


def _is_silent_whole(node: ast.AST, problems: frozenset[str]) -> bool:
    """A function or variable of keys, a call that prints nothing, an import."""
    if isinstance(node, ast.Call):
        return call_name(node) in SILENT_CALLS - problems or call_name(node) in DECLARATIONS
    if isinstance(node, ast.keyword):
        return node.arg in SILENT_ARGUMENTS - problems
    if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
        return node.returns is not None and _has_keys(node.returns)
    if isinstance(node, ast.AnnAssign):
        return _has_keys(node.annotation)
    return isinstance(node, (ast.Import, ast.ImportFrom))


def _has_keys(returns: ast.expr) -> bool:
    """Whether a function says that it gives keys."""
    if isinstance(returns, ast.Name):
        return returns.id == KEY
    return any(isinstance(one, ast.Name) and one.id == KEY for one in ast.walk(returns))


def _targets(node: ast.Assign | ast.AnnAssign | ast.For | ast.comprehension) -> list[ast.expr]:
    return node.targets if isinstance(node, ast.Assign) else [node.target]


def _is_silent_target(target: ast.expr, problems: frozenset[str]) -> bool:
    return isinstance(target, ast.Name) and target.id in SILENT_VARIABLES - problems


def call_name(node: ast.Call) -> str:
    return str(getattr(node.func, "id", getattr(node.func, "attr", "")))


def _speaks(node: ast.AST, name: str, *, is_read: bool) -> bool:
    if isinstance(node, ast.keyword):
        return node.arg in SPEAKING
    if isinstance(node, (ast.IfExp, ast.BoolOp, ast.BinOp, ast.Tuple, ast.List)):
        return is_read or isinstance(node, ast.IfExp)
    if isinstance(node, ast.ClassDef):
        return any(isinstance(base, ast.Name) and base.id == "StrEnum" for base in node.bases)
    if isinstance(node, ast.Assign):
        return is_read
    return isinstance(node, (ast.Return, ast.Yield)) or (isinstance(node, ast.For) and name == "iter")


def _is_silent(node: ast.AST, name: str, child: ast.AST, problems: frozenset[str]) -> bool:
    """Docstrings, keys, what is compared, annotations and names of variables."""
    if isinstance(child, ast.Constant) and isinstance(node, (ast.Expr, ast.Compare)):
        return True
    if isinstance(node, ast.Assign | ast.AnnAssign | ast.For | ast.comprehension):
        return name in ("value", "iter") and any(_is_silent_target(one, problems) for one in _targets(node))
    if isinstance(node, ast.Subscript):
        return name == "slice"
    if isinstance(node, ast.Dict):
        return name == "keys" and isinstance(child, ast.Constant)
    return name in ("annotation", "returns", "decorator_list")


def is_prose(text: str, *, is_read: bool) -> bool:
    bare = FORMAT.sub("", text)
    if NO_PROSE.search(bare) or (text[:1] == " " and not bare.strip()):
        return False
    return bool(
        PROSE.search(bare) or TITLE.fullmatch(bare) or (is_read and WORD.fullmatch(bare.strip(" ,;:.()")))
    )


def _parts(node: ast.AST) -> list[str | ast.expr]:
    """The words and values of a formatted text, or of texts that are added; nothing of any other node."""
    if isinstance(node, ast.JoinedStr):
        return [one.value if isinstance(one, ast.FormattedValue) else str(one.value) for one in node.values]  # type: ignore[attr-defined]
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        sides = [_text_of(side) for side in (node.left, node.right)]
        if any(isinstance(part, str) for side in sides for part in side):
            return [part for side in sides for part in side]
    return []


def _text_of(side: ast.expr) -> list[str | ast.expr]:
    if isinstance(side, ast.Constant) and isinstance(side.value, str):
        return [side.value]
    return _parts(side) or [side]


def template_of(parts: list[str | ast.expr]) -> str:
    """A formatted text with a {place} for each value, named after it.

    >>> template_of(_parts(ast.parse('f"{a.power_W:.1f} of {name(b)}, {a} and " + str(x + 1)', mode="eval").body))
    '{power_W} of {name}, {a} and {str}'
    """
    made, known = "", dict[str, str]()
    for part in parts:
        if isinstance(part, str):
            made += part
        else:
            own = ast.unparse(part)
            if own not in known:
                known[own] = _unused(_name(part), known.values())
            made += f"{{{known[own]}}}"
    return made


def _name(node: ast.expr) -> str:
    """What a value is called: its variable, attribute or function."""
    while True:
        if isinstance(node, ast.Name):
            return node.id.strip("_") or "value"
        if isinstance(node, ast.Attribute):
            return node.attr.strip("_")
        if isinstance(node, (ast.Subscript, ast.Starred)):
            node = node.value
        elif isinstance(node, ast.Call):
            node = node.func
        else:
            return "value"


def _unused(name: str, known: Iterable[str]) -> str:
    taken, number, made = set(known), 2, name
    while made in taken:
        made, number = f"{name}{number}", number + 1
    return made
