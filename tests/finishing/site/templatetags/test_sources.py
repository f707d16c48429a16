from finishing.site.templatetags.sources import source


def test_a_work_is_named_after_its_key_and_common_practice_once():
    assert ">AE1996</a>: Alduchov" in source("AE1996")
    assert source("common practice").count("ommon practice") == 1
