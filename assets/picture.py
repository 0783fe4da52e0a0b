#!/usr/bin/env python3
"""Draws terminal output as an SVG picture, for the README. Needs Python 3 only.

    CLICOLOR_FORCE=1 cargo run --release -- check examples/pressure-car --kit examples/kit.toml |
        python3 assets/picture.py "overcup check examples/pressure-car" > assets/terminal.svg
"""
import re
import sys
from html import escape

WIDTH, HEIGHT, PAD = 8.4, 19, 18  # of a character, of a line, around
BOLD, PLAIN = "\x1b[1m", "\x1b[0m"


def main():
    command = sys.argv[1] if len(sys.argv) > 1 else ""
    lines = [f"{BOLD}$ {command}{PLAIN}"] if command else []
    lines += sys.stdin.read().rstrip("\n").split("\n")
    rows = []
    columns = 0
    for line in lines:
        bold = line.startswith(BOLD)
        text = re.sub(r"\x1b\[[0-9;]*m", "", line)
        columns = max(columns, len(text))
        rows.append((bold, text))
    width, height = columns * WIDTH + 2 * PAD, len(rows) * HEIGHT + 2 * PAD
    print(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" role="img" '
        f'aria-label="Terminal output of {escape(command, quote=True)}">'
    )
    print(f'<rect width="{width:.0f}" height="{height:.0f}" rx="8" fill="#1d2329"/>')
    print(
        '<g font-family="ui-monospace, SFMono-Regular, Menlo, Consolas, '
        '\'DejaVu Sans Mono\', monospace" font-size="14" fill="#dfe5ea">'
    )
    for i, (bold, text) in enumerate(rows):
        y = PAD + i * HEIGHT + 14
        weight = ' font-weight="bold" fill="#ffffff"' if bold else ""
        # One element a run of words: columns stay in line whatever font is at hand.
        for run in re.finditer(r"\S+(?: \S+)*", text):
            x = PAD + run.start() * WIDTH
            length = len(run.group()) * WIDTH
            print(
                f'<text x="{x:.1f}" y="{y}" textLength="{length:.1f}" '
                f'lengthAdjust="spacingAndGlyphs"{weight}>{escape(run.group())}</text>'
            )
    print("</g>\n</svg>")


main()
