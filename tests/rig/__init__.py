"""The whole thing on a virtual boat computer: real install script, unit, kernel, lines, ports."""
