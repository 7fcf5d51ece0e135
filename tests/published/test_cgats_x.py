from tests.unit.core.cgats.texts import X
def test_x(): assert X==1
