"""Text to statements (LANGUAGE.md section 1): a statement is clauses of items and perhaps a block of statements."""
from dataclasses import dataclass, field


class Text(str):
    """What stood in double quotes."""


@dataclass
class Statement:
    clauses: list
    block: list = None
    line: int = 0

    @property
    def head(self):
        return self.clauses[0]


def _tokens(source):
    line, i, n = 1, 0, len(source)
    stops = set(' \t\r\n,(){}"')
    while i < n:
        ch = source[i]
        if ch == "\n":
            yield "\n", None, line
            line += 1
            i += 1
        elif ch in " \t\r":
            i += 1
        elif source.startswith("--", i):
            while i < n and source[i] != "\n":
                i += 1
        elif ch in ",(){}":
            yield ch, None, line
            i += 1
        elif ch == '"':
            j = source.index('"', i + 1)
            yield "item", Text(source[i + 1 : j]), line
            i = j + 1
        else:
            j = i
            while j < n and source[j] not in stops and not source.startswith("--", j):
                j += 1
            yield "item", source[i:j], line
            i = j
    yield "\n", None, line


class _Reader:
    def __init__(self, source):
        self.tokens = list(_tokens(source))
        self.at = 0

    def group(self):
        items = []
        while True:
            kind, value, line = self.tokens[self.at]
            self.at += 1
            if kind == "item":
                items.append(value)
            elif kind == "(":
                items.append(self.group())
            elif kind == ")":
                return items
            elif kind not in (",", "\n"):
                raise ValueError(f"line {line}: {kind} inside brackets")

    def statements(self, inside):
        out, clauses, clause, start = [], [], [], 0

        def close(block=None):
            nonlocal clauses, clause
            if clause:
                clauses.append(clause)
            if clauses:
                out.append(Statement(clauses, block, start))
            clauses, clause = [], []

        while self.at < len(self.tokens):
            kind, value, line = self.tokens[self.at]
            self.at += 1
            if not clauses and not clause:
                start = line
            if kind == "item":
                clause.append(value)
            elif kind == "(":
                clause.append(self.group())
            elif kind == ",":
                if clause:
                    clauses.append(clause)
                    clause = []
            elif kind == "\n":
                close()
            elif kind == "{":
                close(self.statements(True))
            elif kind == "}":
                if not inside:
                    raise ValueError(f"line {line}: a closing brace too many")
                close()
                return out
            else:
                raise ValueError(f"line {line}: a closing bracket too many")
        if inside:
            raise ValueError("a brace is not closed")
        return out


def parse(source):
    return _Reader(source).statements(False)
