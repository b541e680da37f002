"""Both ceilings of the default case from a fresh problem, many times; prints least seconds and factorisations as JSON."""

from __future__ import annotations

import json
import sys
import time

from stages import default_problem

from meltzone.fem.ceiling import find_ceilings

if __name__ == "__main__":
    wall, processor, factorisations = [], [], 0
    for _ in range(int(sys.argv[1]) + 1):
        problem = default_problem()
        begun, used = time.perf_counter(), time.process_time()
        factorisations = find_ceilings(problem).factorisations
        wall.append(time.perf_counter() - begun)
        processor.append(time.process_time() - used)
    print(json.dumps({"wall": min(wall), "processor": min(processor), "factorisations": factorisations}))
