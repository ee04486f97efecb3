"""JSON with sorted keys and one value a line; a list stays on its line unless it holds lists."""
import json


def laid_out(value, depth=0):
    pad = "\n" + " " * (depth + 1)
    if isinstance(value, dict) and value:
        parts = (f"{json.dumps(k, ensure_ascii=False)}: {laid_out(value[k], depth + 1)}" for k in sorted(value))
        return "{" + pad + ("," + pad).join(parts) + pad[:-1] + "}"
    if isinstance(value, list) and any(isinstance(v, list) for v in value):
        return "[" + pad + ("," + pad).join(json.dumps(v, ensure_ascii=False) for v in value) + pad[:-1] + "]"
    return json.dumps(value, ensure_ascii=False)
