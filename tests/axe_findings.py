"""What axe-core finds on a page for those who read it or use it in another way than by eye and mouse."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from axe_playwright_python.base import AXE_SCRIPT

if TYPE_CHECKING:
    from playwright.sync_api import Page

LEAST_RULES = 10  # that a page of ours meets; fewer mean that little of it was looked at
# an element is told by its HTML and needs no selector; no page loads a style sheet or a sound from elsewhere
RUN = """async () => {
    const found = await axe.run({ resultTypes: ["violations"], selectors: false, preload: false });
    return [found.passes.length, found.violations];
}"""


def axe_findings(page: Page) -> list[tuple[str, str, list[str]]]:
    """Rule, impact and elements of each violation on the page as it stands."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    passes, violations = page.evaluate(RUN)
    assert passes > LEAST_RULES
    found: list[dict[str, Any]] = violations
    return [(one["id"], one["impact"], [node["html"][:120] for node in one["nodes"]]) for one in found]
