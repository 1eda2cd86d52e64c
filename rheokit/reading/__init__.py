"""From the bytes of an export to a Run, from a folder to a Batch.

One floor a file: `files` (bytes), `text` (characters), `rows` (cells with line numbers), `headings` and `sheet` (preamble, header,
body), `blocks` (points, steps and notes), `columns` (quantities and units), `decimals`, `numbers` and `clock` (cells as floats), `body`
(the points in SI). Workbooks come in by `archive` or `compound` (are they whole?) and `workbook`, long texts by `large`, `even` and
`pieces`; `parts` chooses. Then `geometries` and `torque` (stress and rate from torque and speed),
`consistency` (columns against each other), `export` (the Run). The kinds of steps: `profile` (one column), `shapes` with `sweeps`,
`stress_shapes` and `oscillation` (one step), `kinds` (a step among its neighbours), `rotation` (its direction), `steps`. Beside them
`folder`, `batch_file`, `placing` and `batch` (the Batch), `entered` (results typed in by hand), `layout` and `layout_text` (a file that
settles what an export does not say) and `inspection` (what was decided).
"""

from rheokit.reading.batch import read_batch
from rheokit.reading.export import read_run

__all__ = ["read_batch", "read_run"]
