"""`python -m hingeleaf_tui` is `hingeleaf`."""

from hingeleaf_tui.commands.root import main

main(prog_name="hingeleaf")
