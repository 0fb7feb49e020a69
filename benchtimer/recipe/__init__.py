"""Recipes: from the file as it was written to entries that the rest can rely on.

``loading`` makes raw tables of the text. ``model`` reads them entry by entry (``fields``,
``checks``), ``rules`` and ``limit_rules`` compare entries with each other, ``safety`` looks for
dangers, and ``reader`` puts it together: a ``Recipe``, or every problem with its line. From
there data passes on as ``Recipe`` alone. ``adjust`` and ``revise`` make other recipes of one,
``places`` lays stations out at the places of a shop, ``writer`` and ``toml_edit`` write.
``raw_tables`` names the raw form; only this package looks into it. Pure, except ``recipe_files``,
which finds the files.
"""
