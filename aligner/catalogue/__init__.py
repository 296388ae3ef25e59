"""The catalogue: an archive of talks in which every move, position and word that was discussed is found.

All that the commands can do is here for programs too::

    from aligner.catalogue.find import find
    from aligner.catalogue.nearest import nearest
    from aligner.catalogue.question import ask
    from aligner.catalogue.store import open_catalogue

    with open_catalogue("talks.sqlite", make=True) as catalogue:
        catalogue.add(record, "a talk")
        question = ask(move="Nf5", partial="no queens", words="minority attack", kind=["game"], confidence=0.8)
        for moment in find(catalogue, question):
            print(moment.talk, moment.start, moment.move, moment.said)

`record` is a `Record` (`aligner.record.document` reads one). `nearest` answers where `find` has nothing; `store` adds,
removes and lists, `intake` reads many records at once, `checking` checks, `summary` sums up, `listing` writes answers
as a table, JSON, CSV or a page, `scores` finds the game that a talk is about among many.
"""
