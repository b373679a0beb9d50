"""Holds plans against the shared check. Reads one question a line, {"problem": ..., "plan": ...},
and answers each with a line: {"faults": [...]}. The path of the check is the one argument.
"""
import importlib.util
import json
import sys

spec = importlib.util.spec_from_file_location("check_plan", sys.argv[1])
check_plan = importlib.util.module_from_spec(spec)
spec.loader.exec_module(check_plan)

for line in sys.stdin:
    question = json.loads(line, parse_float=str)
    try:
        faults, _ = check_plan.check(question["problem"], question["plan"])
    except (KeyError, ValueError, TypeError, AttributeError) as e:
        faults = [f"not as plan-files.md says: {type(e).__name__}: {e}"]
    print(json.dumps({"faults": list(faults)}), flush=True)
