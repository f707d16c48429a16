"""A press of one frame to be blasted and painted, as most plans here have it; a file may have another of its own."""

import pytest

from tests.factories import PartFactory, PieceFactory, ProjectFactory


@pytest.fixture
def part(workshop, system):
    return PartFactory(design__workshop=workshop, name="frame", system=system)


@pytest.fixture
def project(part):
    return ProjectFactory(design=part.design, name="press")


@pytest.fixture
def piece(project, part, roof):
    return PieceFactory(project=project, part=part, place=roof, mark="F-1")
