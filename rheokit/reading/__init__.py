"""From the bytes of an export to a Run, from a folder to a Batch.

One floor a file: `files` (bytes), `text` (characters), `rows` (cells with line numbers), `headings` and `sheet` (preamble, header,
body), `columns` (quantities in SI), `numbers` (cells as floats), `consistency` (columns against each other), `profile`, `kinds` and
`steps` (steps with kinds), `export` (the Run). Beside them `folder`, `batch_file`, `placing` and `batch` (the Batch), `entered`
(results typed in by hand), `layout` (a file that names the columns) and `inspection` (what was decided).
"""

from rheokit.reading.batch import read_batch
from rheokit.reading.export import read_run

__all__ = ["read_batch", "read_run"]
