"""Run `hingeleaf` as `python -m hingeleaf_tui`."""

from hingeleaf_tui.commands.root import main

main(prog_name="hingeleaf")
