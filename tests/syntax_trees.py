"""Files of the package as syntax trees, each parsed once in a run."""

import ast
from functools import cache
from pathlib import Path


@cache
def syntax_tree(path: Path) -> ast.Module:
    """The tree of a file; not to be changed."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def syntax_nodes(path: Path) -> tuple[ast.AST, ...]:
    """Every node of a file, as ``ast.walk`` gives them."""
    return tuple(ast.walk(syntax_tree(path)))
