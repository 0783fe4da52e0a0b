"""Answers a drafted case as a person would who stands before the car: what is asked is filled in.

Guesses of the draft are taken where the document gives them; what no scan can tell (kinds, sizes, that the lid is
off and there is no hinge) is looked up in the truth by the nearest place, and so are the ports' figures, which a
tape tells.
"""

import re
import tomllib

import numpy

import scanner

#: What a tape tells of a port.
TAPE = r"(width|height|sill|wall|deviation) = "


def answered(text, truth, exact_from_draft):
    """The document with every question answered and every empty key filled in. What is no fitting of the truth is
    said to be a stud, which is what broken-off pieces of this car top are."""
    document = tomllib.loads(filled(text, truth, None))
    for one in (*document.get("fitting", []), *document.get("port", [])):
        key = "centre" if "centre" in one else "at"
        here = [scanner.inches(v) for v in one[key]]
        here = scanner.moved(exact_from_draft, numpy.array([[*here, 0.0]]))[0, :2]
        one[key] = [f"{c:.6f} mm" for c in here]
    return without_strangers(filled(text, truth, document), document, truth)


#: A drafted fitting farther than this from any true one is none, mm.
STRANGE = 30.0


def without_strangers(text, document, truth):
    """The document with what is no fitting under studs, and what is unseen of it under [unseen]."""
    strange = []
    for number, one in enumerate(document.get("fitting", [])):
        at = numpy.array([scanner.inches(v) for v in one["centre"]])
        if min(numpy.linalg.norm(c - at) for _, c, _ in truth.fittings()) > STRANGE:
            strange.append(number)
    if not strange:
        return text
    nobody_saw = {m["name"] for m in document["mesh"] if m.get("unseen")}
    head, *blocks = re.split(r"(?m)^(?=\[\[?[a-z])", text)
    kept, studs, unseen, number = [head], [], [], -1
    for block in blocks:
        if block.startswith("[[fitting]]"):
            number += 1
            if number in strange:
                names = tomllib.loads(block)["fitting"][0]["meshes"]
                studs += [n for n in names if n not in nobody_saw]
                unseen += [n for n in names if n in nobody_saw]
                continue
        kept.append(block)
    text = "".join(kept)
    for name in studs:
        text += f'\n[[studs]]\nmesh = "{name}"\n'
    if unseen:
        listed = "".join(f', "{name}"' for name in unseen)
        text = re.sub(r"(?m)(^\[unseen\]\nmeshes = \[[^\]]*)\]", lambda m: m.group(1) + listed + "]", text)
    return text


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
        tape = re.match(TAPE, line) if table == "port" and document else None
        guess = None if tape else re.match(r'(\s*)([a-z-]+) = (""|\[\]) # guess: (.*)$', line)
        if guess:
            value = guess.group(4)
            if document and table == "fitting" and guess.group(2) in ("kind", "size"):
                value = known(document, truth, (table, index[table]), guess.group(2), value)
            line = f"{guess.group(1)}{guess.group(2)} = {value}"
        elif tape:
            key = tape.group(1)
            line = f"{key} = " + known(document, truth, (table, index[table]), key, line)
        elif extra and re.match(r"meshes = \[", line):
            inside = line[line.index("[") + 1 : line.rindex("]")]
            line = "meshes = [" + ", ".join(x for x in (inside, *extra) if x) + "]"
            extra = []
        elif re.match(r'answer = ""', line):
            line = 'answer = "looked at on the car (invented)"'
        elif table == "measured" and line.endswith('""'):
            line = line[:-2] + '"invented"'
        lines.append(line)
    if "[lid]" not in lines:
        lines += ["", "[lid]", "fitted = false"]
    if "[hinge]" not in lines:
        lines += ["", "[hinge]", "meshes = []"]
    return "\n".join(lines) + "\n"


def known(document, truth, drafted, key, guess):
    """What the true fitting or port says that is nearest to a drafted one."""
    table, number = drafted
    place = {"fitting": "centre", "port": "at"}[table]

    def at(one):
        return numpy.array([scanner.inches(v) for v in one[place]])

    try:
        here = at(document[table][number])
    except (KeyError, ValueError, IndexError):
        return guess
    nearest = min(truth.document[table], key=lambda one: numpy.linalg.norm(at(one) - here))
    return '"' + nearest[key] + '"'
