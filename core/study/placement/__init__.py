"""Where a patch may lie and what each place gives: strip, maps, allowed misplacement."""
