"""How much work a style sheet's selectors are, reckoned before anything is matched.

`a b` asks all that an element stands in, `a ~ b` all that stand before it: a few of them in
one selector multiply, and a small file could keep a machine busy for days.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import cssselect2
import tinycss2

from nestplan.artwork.svg.parse import Element
from nestplan.faults import Fault

TOKENS_MOST = 200  # of one selector; drawing programs write one or two
WORK_MOST = 5_000_000.0  # some seconds; what drawing programs write takes a hundredth
CHARACTERS_A_TEST = 10  # to write so many into an element takes as long as one test
_BETWEEN = (">", "+", "~", "-", ",")


@dataclass(slots=True, kw_only=True)
class Work:
    """The tree's figures, and what has been asked of it so far."""

    elements: int
    depth: int
    siblings: int
    named: Counter[str]  # elements by local name, ".class" and "#id"
    done: float = field(default=0.0)

    def add(
        self,
        selectors: Sequence["cssselect2.compiler.CompiledSelector"],
        preludes: Sequence[Sequence["tinycss2.ast.Node"]],
        characters: int,
        where: str,
    ) -> None:
        """One rule more. preludes: the tokens of each selector; characters: of what it says.

        raises: Fault when all rules together would take too long.
        """
        for selector, tokens in zip(selectors, preludes, strict=True):
            tried = min(
                self.named[key] if key else self.elements
                for key in (
                    selector.local_name,
                    f".{selector.class_name}" if selector.class_name else None,
                    f"#{selector.id}" if selector.id else None,
                )
            )
            self.done += tried * (self._tests(tokens) + characters / CHARACTERS_A_TEST)
        if self.done > WORK_MOST:
            raise Fault(
                what="the style sheet's rules, each tried on every element, would take too long",
                where=where,
                do="give the shapes classes and select these, or write fill and stroke into them",
            )

    def _tests(self, tokens: Iterable["tinycss2.ast.Node"]) -> float:
        """How many elements are asked, at most, to know whether one is selected."""
        found, before = 1.0, ""
        kept = list(tokens)
        for k, token in enumerate(kept):
            after = kept[k + 1].value if k + 1 < len(kept) and _is_sign(kept[k + 1]) else ""
            if token.type == "whitespace" and 0 < k < len(kept) - 1:
                found *= self.depth if not before and after not in _BETWEEN else 1
            elif _is_sign(token) and token.value == "~":
                found *= self.siblings
            elif token.type in ("ident", "function"):
                name = token.lower_value if token.type == "ident" else token.lower_name
                found *= self.siblings if name.endswith("of-type") or name.startswith("nth") else 1
                found *= self.elements if name == "has" else 1
            if token.type == "function":
                found *= self._tests(token.arguments)
            if token.type != "whitespace":
                before = token.value if _is_sign(token) and token.value in _BETWEEN else ""
        return found


def work_of(root: Element) -> Work:
    """The figures of a tree, nothing asked yet."""
    named: Counter[str] = Counter()
    elements, siblings, deepest = 0, 1, 1
    levels = {root: 1}
    for element in root.iter("*"):
        parent = element.getparent()
        level = levels[element] = 1 if parent is None else levels.get(parent, 0) + 1
        elements, deepest = elements + 1, max(deepest, level)
        siblings = max(siblings, len(element))
        named[str(element.tag).rpartition("}")[2]] += 1
        named.update(f".{name}" for name in set(element.get("class", "").split()))
        named[f"#{element.get('id')}"] += 1
    return Work(elements=elements, depth=deepest, siblings=siblings, named=named)


def each_selector(prelude: Iterable["tinycss2.ast.Node"]) -> list[list["tinycss2.ast.Node"]]:
    """A list of selectors, apart at its commas."""
    parts: list[list[tinycss2.ast.Node]] = [[]]
    for token in prelude:
        if _is_sign(token) and token.value == ",":
            parts.append([])
        else:
            parts[-1].append(token)
    return parts


def is_long(tokens: Iterable["tinycss2.ast.Node"]) -> bool:
    """Whether a selector has more than `TOKENS_MOST` tokens, brackets looked into."""
    left = list(tokens)
    seen = 0
    while left and seen <= TOKENS_MOST:
        token = left.pop()
        seen += 1
        left += getattr(token, "arguments", None) or getattr(token, "content", None) or []
    return seen > TOKENS_MOST


def _is_sign(token: "tinycss2.ast.Node") -> bool:
    return bool(token.type == "literal")
