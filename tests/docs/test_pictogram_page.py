from tools.pictograms import PAGE, page


def test_the_page_of_pictograms_is_up_to_date():
    assert PAGE.read_text(encoding="utf-8") == page(), 'run "make pictograms"'
