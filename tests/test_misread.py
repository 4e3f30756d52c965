"""Weights that no car reads, beside honest ones that only look like them."""

from __future__ import annotations

import numpy as np

from ovalwright.study.misread import misread, swapped
from ovalwright.study.weigh import CornerWeights
from ovalwright.units import LB


def test_a_corner_beside_which_its_neighbors_carry_five_times_as_much_is_a_slip():
    light = CornerWeights.of(np.array([50.0, 350.0, 380.0, 260.0]))
    assert [one.sentence[:2] for one in misread(light, light)] == ["LF"]
    usual = CornerWeights.of(np.array([350.0, 300.0, 380.0, 260.0]))
    assert not misread(usual, usual)
    turned = CornerWeights.of(usual.loads + np.array([-80.0, 80.0, 80.0, -80.0]))
    assert not misread(turned, usual)


def test_bolts_and_lead_are_no_swap():
    last = np.array([738.0, 682.0, 802.0, 578.0]) * LB
    before = CornerWeights.of(last)
    for rear in (0.9, 1.0, 1.1):
        for turned in range(-300, 301, 5):
            jacked = last + turned * LB * np.array([1.0, -1.0, -rear, rear])
            assert swapped(CornerWeights.of(jacked), before) is None
    for pounds in range(10, 110, 10):
        for share in (0.0, 0.2, 0.4, 0.6, 0.8):
            front, back = share * pounds * LB, (1.0 - share) * pounds * LB
            for across in (np.array([-front, front, -back, back]), np.array([front, -front, back, -back])):
                assert swapped(CornerWeights.of(last + across), before) is None
        along = pounds * LB * np.array([0.5, 0.5, -0.5, -0.5])
        for moved in (along, -along, pounds * LB * np.array([0.0, 0.0, 0.5, 0.5])):
            assert swapped(CornerWeights.of(last + moved), before) is None
