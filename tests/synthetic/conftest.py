"""The demo study, written once for all tests of this folder."""

import pytest

from irspot.workflow.demo import write_demo


@pytest.fixture(scope="session")
def study_file(tmp_path_factory):
    return write_demo(tmp_path_factory.mktemp("demo"))
