"""Every file of outside numbers says where it comes from."""

import json

import pytest

from reference_data import FIELDS, FOLDER, reference

NAMES = sorted(path.stem for path in FOLDER.glob("*.json"))


def test_every_file_says_its_source():
    assert len(NAMES) >= 7
    for name in NAMES:
        assert all(reference(name)[field] for field in FIELDS)


@pytest.mark.parametrize("field", FIELDS)
@pytest.mark.parametrize("held", [None, "", "  "])
def test_a_file_without_a_source_is_refused(tmp_path, field, held):
    said = dict.fromkeys(FIELDS, "told") | {field: held}
    (tmp_path / "made_up.json").write_text(json.dumps({key: value for key, value in said.items() if value is not None}), encoding="utf-8")
    with pytest.raises(ValueError, match=f"does not say its {field}"):
        reference("made_up", tmp_path)
