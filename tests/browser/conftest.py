"""The browser of these tests, one for each file.

Where there is none they are reported as not run; where SPIRITLEVEL_EXPECT_BROWSER is set, that is
a failure.
"""

import os

import pytest

from tests.browser.driven import NoBrowserError, chromium


@pytest.fixture(scope="module")
def browser():
    try:
        with chromium() as started:
            yield started
    except NoBrowserError as error:
        if os.environ.get("SPIRITLEVEL_EXPECT_BROWSER"):
            pytest.fail(f"a browser is expected here: {error}")
        pytest.skip(f"not run: {error}")
