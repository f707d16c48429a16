"""How air, iron and paint behave: pure functions, no Django, no network, no clock."""
