"""Solves drives by a general solver (HiGHS) over all patterns. Reads one question a line and
answers each with a line: {"made": most weight, "proven": true}.

A question is a problem of small whole numbers as text and, for each fabric, the vectors of panel
counts that a piece of it can give: [{"kinds": [[role, around, along], ...], "patterns": [[[...]]]}].
Needs Debian's python3-scipy.
"""
import json
import sys
from fractions import Fraction

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_matrix


class Model:
    def __init__(self):
        self.rows, self.columns, self.gain, self.most = [], 0, [], []
        self.low, self.high = [], []

    def row(self, low, high):
        self.low.append(low)
        self.high.append(high)
        return len(self.low) - 1

    def column(self, gain, most, entries):
        for row, value in entries.items():
            self.rows.append((row, self.columns, value))
        self.gain.append(gain)
        self.most.append(most)
        self.columns += 1

    def solve(self):
        if not self.columns:
            return 0.0, True
        i, j, v = zip(*self.rows) if self.rows else ((), (), ())
        matrix = coo_matrix((v, (i, j)), shape=(len(self.low), self.columns)).tocsr()
        r = milp(-np.array(self.gain, float), constraints=LinearConstraint(matrix, self.low, self.high),
                 integrality=np.ones(self.columns), bounds=Bounds(0, np.array(self.most, float)),
                 options={"time_limit": 20, "mip_rel_gap": 0, "presolve": True})
        return (-r.fun if r.x is not None else None), r.status == 0


def solve(question):
    problem, kinds = question["problem"], [tuple(k) for k in question["kinds"]]
    at = {k: i for i, k in enumerate(kinds)}
    groups = {f["group"] for f in problem["fabrics"]}
    cases = {c["id"]: c["panels"] for c in problem["cases"]}
    m = Model()
    supply = {(g, i): m.row(-np.inf, 0) for g in sorted(groups) for i in range(len(kinds))}
    for f, patterns in zip(problem["fabrics"], question["patterns"]):
        piece = m.row(-np.inf, f["pieces"])
        for p in patterns:
            m.column(0, f["pieces"], {piece: 1, **{supply[f["group"], i]: -n for i, n in enumerate(p) if n}})
    for q in problem["quotas"]:
        quota, weight = m.row(-np.inf, q["wanted"]), float(Fraction(str(q["weight"])))
        for c in sorted(set(q["cases"])):
            for body in sorted(set(q["bodies"]) & groups):
                made = {quota: 1}
                trims = []
                for line in cases[c]:
                    kind = at[line["role"], line["around"], line["along"]]
                    if line["role"] == "body":
                        made[supply[body, kind]] = line["pieces"]
                        continue
                    same = m.row(0, 0)
                    made[same] = 1
                    for g in sorted(set(problem.get("trim_roles", {}).get(body, {}).get(line["role"], problem["trims"].get(body, []))) & groups):
                        trims.append({same: -1, supply[g, kind]: line["pieces"]})
                m.column(weight, q["wanted"], made)
                for t in trims:
                    m.column(0, q["wanted"], t)
    made, proven = m.solve()
    return {"made": made, "proven": bool(proven)}


for line in sys.stdin:
    print(json.dumps(solve(json.loads(line))), flush=True)
