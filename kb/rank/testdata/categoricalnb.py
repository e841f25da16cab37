"""Posteriors of scikit-learn's CategoricalNB (alpha = 1) on sets of nominal attributes, as JSON on standard output.

    python3 categoricalnb.py [--every N] soybean.arff dermatology.arff lymph.arff > categoricalnb.json

Every attribute but the class is categorical: an integer is a value like any other, and so is "?" where it occurs. K is the number of
values that occur in the attribute's whole column, in training rows or not. Each set is learned twice, from all rows and from the rows
with an even number (counting from 0), and asked about every Nth row: the natural logarithm of each class's posterior, classes in
order of their names as far as the training rows have them.
"""

import argparse
import json
import pathlib

import numpy
import sklearn
from sklearn.naive_bayes import CategoricalNB


def cells(line):
    return [cell.strip().strip("'\"") for cell in line.split(",")]


def read(path):
    """Gives the rows of a set, and the place of its class: the attribute called so, else the last."""
    names, rows = [], []
    for line in path.read_text(encoding="utf-8", errors="replace").splitlines():
        line = line.strip()
        lower = line.lower()
        if not line or line.startswith("%") or lower.startswith(("@relation", "@data")):
            continue
        if lower.startswith("@attribute"):
            names.append(line[len("@attribute"):].split("{")[0].split()[0].strip("'"))
        else:
            rows.append(cells(line))
    return rows, names.index("class") if "class" in names else len(names) - 1


def numbered(column):
    values = sorted(set(column))
    return [values.index(v) for v in column], len(values)


def posteriors(rows, at, step, every):
    columns = [numbered([r[a] for r in rows]) for a in range(len(rows[0])) if a != at]
    x = numpy.array([c[0] for c in columns]).T
    y = numpy.array([r[at] for r in rows])
    model = CategoricalNB(alpha=1.0, min_categories=[c[1] for c in columns])
    model.fit(x[::step], y[::step])
    asked = range(0, len(rows), every)
    return zip(asked, model.predict_log_proba(x[list(asked)]).tolist())


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--every", type=int, default=17)
    parser.add_argument("files", nargs="+", type=pathlib.Path)
    args = parser.parse_args()
    lines = []
    for path in args.files:
        rows, at = read(path)
        for step in (1, 2):
            for row, log in posteriors(rows, at, step, args.every):
                lines.append(json.dumps({"set": path.name, "train_step": step, "row": row, "log": log}))
    print('{"made_with": "scikit-learn %s",\n"posteriors": [\n%s\n]}' % (sklearn.__version__, ",\n".join(lines)))


if __name__ == "__main__":
    main()
