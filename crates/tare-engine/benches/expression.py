"""The expression of expression.rs by numpy and numexpr.

Started by that bench with a folder of columns (column0.bin to column4.bin, little-endian doubles) and its results (result.bin). Prints how far
its own results are from those, at most, of the larger of result and 1; then waits for lines on standard input and answers each with the time that
every method took, in seconds. Results go into one array that is there already, but for whole columns, which always make new ones.
"""

import sys
import time

import numexpr
import numpy

CHUNK = 4096

folder = sys.argv[1]
columns = [numpy.fromfile(f"{folder}/column{k}.bin", dtype="<f8") for k in range(5)]
count = len(columns[0])
numexpr.set_num_threads(1)


def expression(a, b, c, d, e):
    n5 = a * b
    n7 = numpy.log(c) / d
    n10 = n5 + n7 * numpy.sqrt(e)
    n14 = (a * d - b) / numpy.exp(n7)
    n17 = n10 * n14 + numpy.sqrt(n10)
    n18 = c * e
    n19 = numpy.log(n18)
    n21 = n17 - n19 * n19
    n22 = b / e
    n26 = (n22 + 1.0) * n21 / numpy.exp(n22)
    n30 = numpy.sqrt(d * d * c) + n26
    return (a / n30 + 10.0) * n5 - n18


def whole():
    return expression(*columns)


out = numpy.zeros(count)


def chunked():
    for start in range(0, count, CHUNK):
        out[start : start + CHUNK] = expression(*(column[start : start + CHUNK] for column in columns))
    return out


# numexpr finds common parts itself
TEXT = (
    "(a/(sqrt(d*d*c)+((b/e)+1.0)*((a*b+log(c)/d*sqrt(e))*((a*d-b)/exp(log(c)/d))+sqrt(a*b+log(c)/d*sqrt(e))"
    "-log(c*e)*log(c*e))/exp(b/e))+10.0)*(a*b)-c*e"
)


def compiled(threads):
    numexpr.set_num_threads(threads)
    return numexpr.evaluate(TEXT, local_dict=dict(zip("abcde", columns)), out=out)


methods = {
    "numpy, whole columns": whole,
    f"numpy, chunks of {CHUNK}": chunked,
    "numexpr, one thread": lambda: compiled(1),
    "numexpr, two threads": lambda: compiled(2),
}

expected = numpy.fromfile(f"{folder}/result.bin", dtype="<f8")
farthest = max(float(numpy.max(numpy.abs(method() - expected) / numpy.maximum(numpy.abs(expected), 1.0))) for method in methods.values())
print(f"numpy {numpy.__version__}, numexpr {numexpr.__version__}\t{farthest}", flush=True)
for _ in sys.stdin:
    times = []
    for name, method in methods.items():
        start = time.perf_counter()
        result = method()
        times.append(f"{name}\t{time.perf_counter() - start}")
        del result
    print("\t".join(times), flush=True)
