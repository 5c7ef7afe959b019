"""Clip paths and masks of SVG elements (CSS Masking 1)."""

from collections.abc import Callable
from dataclasses import replace

from lxml import etree

from hingeleaf.artwork.document import (
    Document,
    RenderContext,
    place,
    reference,
    tag_of,
    transform_of,
)
from hingeleaf.artwork.lengths import UNIT_BOX, Box, Measures
from hingeleaf.artwork.matrices import Matrix, multiply
from hingeleaf.artwork.painted_path import Clip, PaintedPath, box_matrix, clipped, rectangle_clip
from hingeleaf.artwork.path_data import is_shape
from hingeleaf.artwork.styles import computed

Walk = Callable[[etree._Element, RenderContext], list[PaintedPath]]


class Clipper:
    """Clips the painted paths of one document; `walk` draws what clip paths and masks contain."""

    def __init__(self, document: Document, walk: Walk) -> None:
        self._document = document
        self._walk = walk
        self._clips: dict[tuple[etree._Element, Matrix], Clip] = {}

    def clip(
        self, element: etree._Element, context: RenderContext, painted_paths: list[PaintedPath]
    ) -> list[PaintedPath]:
        """The paths clipped by an element's own clip path, mask and filter."""
        if not painted_paths:
            return painted_paths
        notes = self._document.notes
        for kind, tag, clip_of in (
            ("clip-path", "clipPath", self._clip_path),
            ("mask", "mask", self._mask),
        ):
            value = context.style.get(kind, "none")
            if value == "none":
                continue
            target = self._document.ids.get(reference(value))
            if target is not None and tag_of(target) == tag:
                painted_paths = clipped(painted_paths, clip_of(target, context, painted_paths))
                if kind == "mask":
                    notes.add(kind, "A mask is treated as a hard edge", place(element))
                continue
            lost = target is None and value.startswith("url(")
            why = "refers to nothing and" if lost else "of this kind"
            notes.add(kind, f"A {kind} {why} is ignored", place(element))
        if context.style.get("filter", "none") != "none":
            notes.add("filter", "A filter is ignored", place(element))
        return painted_paths

    def _clip_path(
        self, target: etree._Element, context: RenderContext, painted_paths: list[PaintedPath]
    ) -> Clip:
        by_box = target.get("clipPathUnits") == "objectBoundingBox"
        base = (
            multiply(context.matrix, box_matrix(context.matrix, painted_paths))
            if by_box
            else context.matrix
        )
        key = (target, base)
        if key in self._clips:
            return self._clips[key]
        self._clips[key] = Clip(())
        inside = replace(self._content_context(target, context, base, by_box), outlines_only=True)
        turned = multiply(base, transform_of(target, inside.style, self._document))
        drawn: list[PaintedPath] = []
        for child in target:
            if is_shape(tag_of(child)) or tag_of(child) in ("use", "text"):
                drawn += self._walk(child, replace(inside, matrix=turned))
        self._clips[key] = Clip(tuple(self.clip(target, inside, drawn)))
        return self._clips[key]

    def _content_context(
        self, target: etree._Element, context: RenderContext, matrix: Matrix, by_box: bool
    ) -> RenderContext:
        """The context of the contents of a clip path or mask."""
        viewport = UNIT_BOX if by_box else context.viewport
        style = computed(target, {}, self._document.sheet)
        return RenderContext(matrix, viewport, style, uses=(*context.uses, target))

    def _mask(
        self, target: etree._Element, context: RenderContext, painted_paths: list[PaintedPath]
    ) -> Clip:
        if target in context.uses:
            return Clip((), is_mask=True)
        box = multiply(context.matrix, box_matrix(context.matrix, painted_paths))
        by_box = target.get("maskContentUnits") == "objectBoundingBox"
        inside = self._content_context(target, context, box if by_box else context.matrix, by_box)
        drawn = [painted for child in target for painted in self._walk(child, inside)]
        drawn = clipped(drawn, self._mask_region(target, context, box))
        if inside.style.get("mask", "none") != "none":
            drawn = self.clip(target, inside, drawn)
        return Clip(tuple(drawn), is_mask=True, by_alpha=inside.style.get("mask-type") == "alpha")

    def _mask_region(self, target: etree._Element, context: RenderContext, box: Matrix) -> Clip:
        """The rectangle outside which a mask hides everything."""
        in_box = target.get("maskUnits", "objectBoundingBox") == "objectBoundingBox"
        viewport = UNIT_BOX if in_box else context.viewport
        measures = Measures(target, viewport, context.font_size)

        def or_else(value: float | None, share: float, whole: float) -> float:
            return value if value is not None else share * whole

        region = Box(
            or_else(measures.across("x"), -0.1, viewport.width),
            or_else(measures.down("y"), -0.1, viewport.height),
            or_else(measures.across("width"), 1.2, viewport.width),
            or_else(measures.down("height"), 1.2, viewport.height),
        )
        return rectangle_clip(region, box if in_box else context.matrix)
