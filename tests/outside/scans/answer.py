"""Answers a drafted case as a person would who stands before the car: what is asked is filled in.

Guesses of the draft are taken where the document gives them; what no scan can tell (kinds, sizes, the lid) is
looked up in the truth by the nearest place.
"""

import re
import tomllib

import numpy

import scanner


def answered(text, truth):
    """The document with every question answered and every empty key filled in."""
    return filled(text, truth, tomllib.loads(filled(text, truth, None)))


def filled(text, truth, document):
    """The same; kinds and sizes are looked up by the places that the document `document` has, if any."""
    lines = []
    extra = []
    table = ""
    index = {}
    for line in text.splitlines():
        header = re.match(r"\s*\[\[?([a-z.]+)\]\]?$", line)
        if header:
            table = header.group(1)
            index[table] = index.get(table, -1) + 1
            extra = []
        listed = re.match(r"# guess: (.*), too; list each here", line)
        if listed:
            extra = [listed.group(1)]
        guess = re.match(r'(\s*)([a-z-]+) = (""|\[\]) # guess: (.*)$', line)
        if guess:
            value = guess.group(4)
            if document and table == "fitting" and guess.group(2) in ("kind", "size"):
                value = known(document["fitting"][index[table]], truth, guess.group(2), value)
            line = f"{guess.group(1)}{guess.group(2)} = {value}"
        elif extra and re.match(r"meshes = \[", line):
            inside = line[line.index("[") + 1 : line.rindex("]")]
            line = "meshes = [" + ", ".join(x for x in (inside, *extra) if x) + "]"
            extra = []
        elif re.match(r'answer = ""', line):
            line = 'answer = "looked at on the car (invented)"'
        elif table == "measured" and line.endswith('""'):
            line = line[:-2] + '"invented"'
        lines.append(line)
    return "\n".join(lines) + "\n"


def known(drafted, truth, key, guess):
    """Kind or size of the true fitting nearest to a drafted one."""
    try:
        at = numpy.array([scanner.inches(v) for v in drafted["centre"]])
    except (KeyError, ValueError, IndexError):
        return guess
    place = min(
        truth.document["fitting"],
        key=lambda f: numpy.linalg.norm(
            numpy.array([scanner.inches(v) for v in f["centre"]]) - at
        ),
    )
    return '"' + place[key] + '"'
