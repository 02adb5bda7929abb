"""Ten hours at 200 Hz as Parquet: read in bounded memory, whatever the row groups are."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

SAMPLES = 7_200_000
COLUMNS = 30
_READS = """
import sys
from pathlib import Path
import numpy, pandas, pyarrow.parquet
from replay.open_recording import open_recording

def held():
    status = Path("/proc/self/status").read_text()
    return int(status.split("VmRSS:")[1].split()[0]) / 1024

recording = open_recording(Path(sys.argv[1]))
before = most = held()
samples = 0
for block in recording.blocks(0, recording.groups[0].names):
    samples += len(block.lines)
    most = max(most, held())
print(samples, most - before)
"""


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").is_file(), reason="memory in use is read from /proc")
@pytest.mark.parametrize("row_group", [200_000, SAMPLES])
def test_ten_hours_are_read_in_bounded_memory(tmp_path: Path, row_group: int) -> None:
    path = tmp_path / "ten_hours.parquet"
    schema = pa.schema([(f"column {at}", pa.float64() if at else pa.float32()) for at in range(COLUMNS)])
    with pq.ParquetWriter(path, schema, compression="snappy", use_dictionary=False) as writer:
        noise = np.random.default_rng(1).normal(size=row_group)
        for _ in range(SAMPLES // row_group):
            writer.write_table(pa.table([pa.array(noise, kind.type) for kind in schema], schema=schema), row_group_size=row_group)
    told = subprocess.run([sys.executable, "-c", _READS, str(path)], check=True, capture_output=True, text=True, timeout=300).stdout.split()
    assert int(told[0]) == SAMPLES
    # 30 buffers of 1 MB, blocks of 8 MB, what the library keeps for later; measured 115 MB and 91 MB
    assert float(told[1]) < 150.0
