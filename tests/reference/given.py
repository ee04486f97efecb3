"""Patterns with `given` and ranges in brackets (LANGUAGE.md sections 3 and 6), statement to statement."""
from grammar import Statement

NAMED = ("coil", "tap", "lead", "gang", "throw")


def split(statement):
    """A pattern without its `given`, and what it is given: {name: items or None}."""
    lines = [[]]
    clauses = []
    for clause in statement.clauses:
        if lines[0] or clause[0] == "given":
            lines[0].append(clause)
        else:
            clauses.append(clause)
    block = []
    for s in statement.block or []:
        if s.head[0] == "given":
            lines.append(s.clauses)
        else:
            block.append(s)
    givens = {}
    for line in lines:
        for clause in line:
            items = clause[1:] if clause[0] == "given" else clause
            givens[items[0]] = items[1:] or None
    return Statement(clauses, None if statement.block is None else block, statement.line), givens


def arguments(givens, clauses, block):
    """Takes what is given at a use out of its clauses and block."""
    found = {k: v for k, v in givens.items() if v is not None}

    def left(some):
        for c in some:
            if c[0] in givens:
                found[c[0]] = c[1:]
        return [c for c in some if c[0] not in givens]

    clauses = left(clauses)
    if block is not None:
        kept = [s if s.head[0] in ("coil", "wire") else Statement(left(s.clauses), s.block, s.line) for s in block]
        block = [s for s in kept if s.clauses]
    missing = set(givens) - set(found)
    if missing:
        raise ValueError(f"not given: {missing}")
    return found, clauses, block


def filled(statement, values, fixed=0):
    """The statement with values in the places of their names."""
    def items_of(items):
        out = []
        for item in items:
            if isinstance(item, list):
                out.append(items_of(item))
            else:
                out += values.get(item, [item])
        return out

    def clause(c, fixed):
        if not fixed and len(c) > 1:
            fixed = 2 if c[0] in NAMED else 1
        return c[:fixed] + items_of(c[fixed:])

    clauses = [clause(c, fixed if i == 0 else 0) for i, c in enumerate(statement.clauses)]
    block = None if statement.block is None else [filled(s, values) for s in statement.block]
    return Statement(clauses, block, statement.line)


def ranged(items):
    """`(1 to 6)` and `(A to D)` written out, in all brackets."""
    out, i = [], 0
    while i < len(items):
        item = items[i]
        if isinstance(item, list):
            out.append(ranged(item))
        elif items[i + 1 : i + 2] == ["to"]:
            a, b = item, items[i + 2]
            out += [str(n) for n in range(int(a), int(b) + 1)] if a.isdigit() else [chr(n) for n in range(ord(a), ord(b) + 1)]
            i += 2
        else:
            out.append(item)
        i += 1
    return out
