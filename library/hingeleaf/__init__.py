"""Hingeleaf's public API: `import hingeleaf as hl`.

Its names stand in `__init__.pyi`. Each is loaded on first use, so that the import itself is fast.
"""

import lazy_loader

__version__ = "0.1.0"
__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
