"""The cascade: presentation attributes, style sheets, style attributes, inheritance (CSS 2.2)."""

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

import cssselect2
import tinycss2
from lxml import etree
from tinycss2.ast import AtRule, QualifiedRule

from hingeleaf.artwork.colours import parse_paint
from hingeleaf.artwork.diagnostics import Diagnostics

Style = dict[str, str]
Declaration = tuple[str, str, bool]
"""Name, value, and whether it is marked `!important`."""


def words(text: str) -> frozenset[str]:
    """The words in a text, for lists of names."""
    return frozenset(text.split())


INHERITED = words(
    """
    fill fill-rule fill-opacity stroke stroke-width stroke-opacity stroke-linecap
    stroke-linejoin stroke-miterlimit stroke-dasharray stroke-dashoffset visibility clip-rule
    color paint-order marker-start marker-mid marker-end font-size font-family font-weight
    font-style font-variant letter-spacing word-spacing text-anchor writing-mode direction
    white-space
    """
)
NOT_INHERITED = words(
    """
    opacity display clip-path mask overflow transform transform-origin transform-box filter
    stop-color stop-opacity vector-effect mask-type baseline-shift dominant-baseline
    mix-blend-mode text-decoration
    """
)
PROPERTIES = INHERITED | NOT_INHERITED
_PAINTS = ("fill", "stroke", "color", "stop-color")
_MARKERS = ("marker-start", "marker-mid", "marker-end")
_INHERITING_WORDS = ("inherit", "unset")
_NEEDS_NO_PARSER = re.compile(r"[^\"'(){}\\/!@]*+$")
_VARIABLE = re.compile(r"var\(\s*+(--[\w-]++)\s*+(?:,\s*+((?:[^()]++|\([^()]*+\))*))?\)")
_BRACKET = re.compile(r"[][(){}]")
_COMBINATOR = re.compile(r"[\s>+~]++")
_MEDIA = re.compile(r"\b(all|screen)\b")
MAX_RULES = 3_000
"""Greatest number of rules in all style sheets of a file (our own choice)."""
MAX_STEPS = 1_000_000
"""Greatest number of ancestor steps for one selector at one element (our own choice)."""
MAX_NESTING = 20
MAX_VALUE = 1000
"""Limits for nested rules, and for the characters of one value (our own choice)."""


class StyleSheet:
    """All rules of a document, matched once against its tree."""

    def __init__(self, root: etree._Element, notes: Diagnostics) -> None:
        self._matched: dict[etree._Element, list[Declaration]] = {}
        self._notes = notes
        self._matcher = cssselect2.Matcher()
        self._depth = 1
        self._namespaces: dict[str | None, str] = {}
        sheets = [e for e in root.iter("{*}style") if (e.get("type") or "text/css") == "text/css"]
        if sheets:
            self._depth = _depth(root)
        for sheet in sheets:
            text = "".join(sheet.itertext())
            if is_nested_too_deeply(text):
                notes.add("style", "A style sheet nests its brackets too deeply to be followed.")
                continue
            self._add(tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True))
        if self._matcher.order:
            self._match(root)

    def declarations(self, element: etree._Element) -> list[Declaration]:
        """The style sheets' declarations for an element, weakest first."""
        return self._matched.get(element, [])

    def _add(self, rules: list[object]) -> None:
        for rule in rules:
            if isinstance(rule, QualifiedRule):
                self._add_rule(rule)
            elif isinstance(rule, AtRule):
                self._add_at_rule(rule)

    def _add_at_rule(self, rule: AtRule) -> None:
        keyword = rule.lower_at_keyword
        if keyword == "media" and rule.content is not None:
            if _MEDIA.search(tinycss2.serialize(rule.prelude)):
                self._add(tinycss2.parse_rule_list(rule.content, True, True))
        elif keyword == "namespace":
            self._namespaces |= _namespace(rule.prelude)
        elif keyword in ("import", "font-face"):
            self._notes.add("style", f"A style sheet's @{keyword} is not followed.")

    def _add_rule(self, rule: QualifiedRule) -> None:
        declarations = _declarations(rule.content)
        if not declarations:
            return
        prelude = rule.prelude
        text = tinycss2.serialize(prelude)
        if self._matcher.order > MAX_RULES or any(
            self._depth ** len(_COMBINATOR.findall(part.strip())) > MAX_STEPS
            for part in text.split(",")
        ):
            self._notes.add(
                "style", "A style sheet is too large or too complex to be followed completely."
            )
            return
        try:
            selectors = cssselect2.compile_selector_list(prelude, self._namespaces)
        except cssselect2.SelectorError:
            self._notes.add("style", f"The selector {text.strip()[:40]!r} is not understood.")
            return
        for selector in selectors:
            self._matcher.add_selector(selector, declarations)

    def _match(self, root: etree._Element) -> None:
        for wrapper in cssselect2.ElementWrapper.from_xml_root(root).iter_subtree():
            matches = self._matcher.match(wrapper)
            if matches:
                self._matched[wrapper.etree_element] = [
                    declaration
                    for _, _, pseudo, declarations in matches
                    if pseudo is None
                    for declaration in declarations
                ]


def _namespace(prelude: list[Any]) -> dict[str | None, str]:
    """The prefix (None for the default) and namespace URI declared by an @namespace rule."""
    address = next((token.value for token in prelude if token.type in ("string", "url")), "")
    prefix = next((token.value for token in prelude if token.type == "ident"), None)
    return {prefix: address} if address else {}


def _depth(root: etree._Element) -> int:
    """The nesting depth of the tree."""
    depths = {root: 1}
    for element in root.iterdescendants():
        depths[element] = depths[element.getparent()] + 1
    return max(depths.values())


def computed(element: etree._Element, parent: Mapping[str, str], sheet: StyleSheet) -> Style:
    """The style of an element whose parent's style is `parent`.

    Properties that are not inherited are present only if the element sets them itself; custom
    properties (`--name`) are inherited.
    """
    style = {k: v for k, v in parent.items() if k in INHERITED or k.startswith("--")}
    for name, value in _cascade(element, sheet):
        if value in _INHERITING_WORDS:
            if name in parent and (value == "inherit" or name in INHERITED):
                style[name] = parent[name]
            else:
                style.pop(name, None)
            continue
        if value == "initial":
            style.pop(name, None)
            continue
        value = _substituted(value, style)
        if name not in _PAINTS or parse_paint(value) is not None:
            style[name] = value
    return style


def _cascade(element: etree._Element, sheet: StyleSheet) -> list[tuple[str, str]]:
    """Every property set on an element, weakest first."""
    weak = [(name, value.strip()) for name, value in element.attrib.items() if name in PROPERTIES]
    rules = sheet.declarations(element)
    own = parse_declarations(element.get("style") or "")
    important = [(n, v) for n, v, strong in (*rules, *own) if strong]
    normal = [(n, v) for n, v, strong in (*rules, *own) if not strong]
    return weak + normal + important


def is_nested_too_deeply(text: str) -> bool:
    """Whether brackets are nested deeper than in any real style sheet."""
    depth = 0
    for bracket in _BRACKET.findall(text):
        depth += 1 if bracket in "([{" else -1
        if depth > MAX_NESTING:
            return True
    return False


@lru_cache(maxsize=4096)
def parse_declarations(text: str) -> tuple[Declaration, ...]:
    """The declarations of a style attribute."""
    if not text or is_nested_too_deeply(text):
        return ()
    if _NEEDS_NO_PARSER.match(text):
        pairs = (part.partition(":") for part in text.split(";"))
        named = ((name.strip().lower(), value.strip()) for name, _, value in pairs)
        return _expanded([(name, value, False) for name, value in named if name and value])
    return _declarations(text)


def _declarations(content: object) -> tuple[Declaration, ...]:
    parsed = tinycss2.parse_blocks_contents(content, skip_comments=True, skip_whitespace=True)
    return _expanded(
        [
            (
                item.name if item.name.startswith("--") else item.lower_name,
                tinycss2.serialize(item.value).strip(),
                bool(item.important),
            )
            for item in parsed
            if item.type == "declaration"
        ]
    )


def _expanded(declarations: list[Declaration]) -> tuple[Declaration, ...]:
    """The declarations that matter for drawing, with the marker shorthand expanded."""
    kept: list[Declaration] = []
    for name, value, important in declarations:
        if name == "marker":
            kept += [(marker, value, important) for marker in _MARKERS]
        elif name == "font":
            kept += [(n, v, important) for n, v in _font_shorthand(value)]
        elif name in PROPERTIES or name.startswith("--"):
            kept.append((name, value, important))
    return tuple(kept)


_FONT_SIZE = re.compile(r"[\d.]++(?:px|pt|em|mm|cm|in|pc|%)(?:/.*)?|[\d.]++/.*")


def _font_shorthand(value: str) -> list[tuple[str, str]]:
    """Size, family, slant and weight from a shorthand such as `italic bold 12px/1.5 serif`."""
    parts = value.replace(" /", "/").replace("/ ", "/").split()
    at = next((i for i, part in enumerate(parts) if _FONT_SIZE.fullmatch(part)), len(parts))
    words, family = parts[:at], " ".join(parts[at + 1 :])
    if not family:
        return []
    return [
        ("font-size", parts[at].partition("/")[0]),
        ("font-family", family),
        ("font-style", next((w for w in words if w in ("italic", "oblique")), "normal")),
        ("font-weight", next((w for w in words if w == "bold" or w.isdigit()), "normal")),
    ]


def _substituted(value: str, style: Style) -> str:
    """The value with custom properties substituted, to a limited depth."""
    for _ in range(4):
        match = _VARIABLE.search(value) if "var(" in value and len(value) < MAX_VALUE else None
        if not match:
            break
        inner = style.get(match[1], (match[2] or "").strip())
        value = value[: match.start()] + inner + value[match.end() :]
    return value
