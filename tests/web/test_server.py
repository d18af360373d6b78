"""Who counts as a screen: one that is connected, never one that only fetched the page."""

from __future__ import annotations

from nicegui.testing.user_simulation import user_simulation

from pitchwright.web.conductor import Conductor
from pitchwright.web.practice_rig import PracticeRig
from pitchwright.web.server import build


async def test_who_only_fetches_a_page_neither_looks_on_nor_leads() -> None:
    conductor = Conductor(PracticeRig, logbook="none")
    async with user_simulation() as user:
        build(conductor)
        for address in ("/", "/trim"):
            fetched = await user.http_client.get(address, headers={"user-agent": "Mobile"})
            assert fetched.status_code == 200
        assert not conductor.scene.screens
        assert not conductor.scene.leader
        await user.open("/trim")
        screens = conductor.scene.screens
        assert [one.name for one in screens] == [conductor.scene.leader]
    conductor.close()
