"""The layers of a print PDF: optional content, and what each is for.

Contours and white are processing steps (ISO 19593-1): a layer's metadata say which, its name is
for people. Marks, words and bars are printed like the art, and the standard has no step for
them: their layer has a name only. Layers of contours are off, so that they are neither shown
nor printed until somebody switches them on.
"""

from dataclasses import dataclass, field

import pikepdf
from pikepdf import Array, Dictionary, Name, Pdf

from nestplan.job import Cut, White

OVER = "Over"  # the graphics state in which nothing below is knocked out


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One layer. name: for people; tag: in content. group, kind: of the processing step."""

    name: str
    tag: str
    group: str | None = None
    kind: str | None = None
    shown: bool = True

    def around(self, operators: str) -> str:
        """Operators inside the layer; nothing stays nothing."""
        return f"/OC /{self.tag} BDC\n{operators}EMC\n" if operators else ""


MARKS = Layer(name="Marks", tag="MarksLayer")
ART_WHITE: dict[White, Layer] = {
    "under": Layer(name="White under the art", tag="ArtWhiteLayer", group="White"),
    "over": Layer(name="White over the art", tag="ArtWhiteLayer", group="White"),
    "between": Layer(
        name="White between two prints of the art", tag="ArtWhiteLayer", group="White"
    ),
}
CONTOURS: dict[Cut, Layer] = {
    "kiss": Layer(
        name="Kiss cut", tag="KissLayer", group="Structural", kind="PartialCutting", shown=False
    ),
    "through": Layer(
        name="Through cut", tag="ThroughLayer", group="Structural", kind="Cutting", shown=False
    ),
}

WEED = Layer(
    name="Weed lines", tag="WeedLayer", group="Structural", kind="PartialCutting", shown=False
)


@dataclass
class Layers:
    """The layers of one document, each made when first asked for."""

    pdf: Pdf
    made: dict[str, tuple[Layer, pikepdf.Object]] = field(default_factory=dict)

    def on(self, page: pikepdf.Page, layer: Layer) -> None:
        """Let a page's content name a layer."""
        if layer.tag not in self.made:
            group = Dictionary(Type=Name.OCG, Name=layer.name)
            if layer.group is not None:
                group.GTS_Metadata = Dictionary(GTS_ProcStepsGroup=Name(f"/{layer.group}"))
                if layer.kind is not None:
                    group.GTS_Metadata.GTS_ProcStepsType = Name(f"/{layer.kind}")
            self.made[layer.tag] = layer, self.pdf.make_indirect(group)
        give(page, "/Properties", layer.tag, self.made[layer.tag][1])

    def finish(self) -> None:
        """List every layer, those that came with the art too: ISO 32000-1, Table 100."""
        known = [group for _, group in self.made.values()]
        own = {group.objgen for group in known}
        for thing in self.pdf.objects:
            if isinstance(thing, Dictionary) and thing.get("/Type") == "/OCG":
                known += [thing] if thing.objgen not in own else []
        if not known:
            return
        off = [group for layer, group in self.made.values() if not layer.shown]
        self.pdf.Root.OCProperties = Dictionary(
            OCGs=Array(known),
            D=Dictionary(Name="Print", Order=Array(known), OFF=Array(off)),
        )


def over_state() -> Dictionary:
    """A state in which nothing below is knocked out: ISO 32000-1 8.6.7."""
    return Dictionary(Type=Name.ExtGState, OP=True, op=True, OPM=1)


def give(page: pikepdf.Page, kind: str, name: str, thing: pikepdf.Object) -> None:
    """Put a resource on a page under a name."""
    resources = page.obj.Resources
    if kind not in resources:
        resources[kind] = Dictionary()
    resources[kind][f"/{name}"] = thing
