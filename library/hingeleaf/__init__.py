"""Hingeleaf's public API: `import hingeleaf as hl`.

Start with `open_library`, `read_drawing`, `plan_bridges`, `letter`, `fill_panel`, `check_panel` and
`write_panel`. All names are listed in `__init__.pyi`; each is loaded on first use, so that the
import itself is fast.
"""

import lazy_loader

__version__ = "0.1.0"
__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
