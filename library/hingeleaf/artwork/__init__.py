"""Read artwork files into shapes in mm, and prepare their cuts.

`reading` picks the reader by content: `svg_reader`, `dxf_reader` or `trace`; `ways` and `preparing`
choose what is cut. Supported SVG features; all others are left out and reported:

| feature | how | module |
|---|---|---|
| lengths | all units of CSS, also with a decimal comma before a unit | `lengths` |
| paths, basic shapes | whole, arcs to 3e-6 of the radius | `path_data`, `paths` |
| nested svg, symbol, use, switch | whole | `walk`, `matrices` |
| transforms | SVG and CSS notation, in two dimensions | `matrices` |
| fill rules, strokes, caps, joins, paint order | whole | `painting`, `strokes` |
| dashes | whole, also by a stated length | `strokes` |
| markers | whole | `markers` |
| style sheets | CSS 3 selectors, custom properties; no @import, no @font-face | `styles` |
| clip paths; masks | whole; as a hard edge at half brightness | `clipping` |
| gradients | pieces of one colour: faint, white or coloured; also repeated | `gradients` |
| patterns | one colour | `painting` |
| opacity | faint paint is left out (`--faintest`), coats are added up | `svg_reader` |
| text | horizontal, in fonts of this machine or one like them | `text_outlines` |
| images, foreignObject, filters, animation | not at all | |
"""
