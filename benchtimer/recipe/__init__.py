"""Recipes: turns the file into entries that the rest of the program can rely on.

``loading`` turns the text into raw tables. ``model`` reads them entry by entry (``fields``,
``checks``, ``answers``), ``rules`` compares entries with each other and looks for dangers, and
``reader`` combines it all into a ``Recipe``, or every problem with its line. From then on, data is
passed only as a ``Recipe``. ``adjust`` and ``revise`` derive recipes from one, ``places`` assigns
stations to the places of a shop, ``writer`` and ``toml_edit`` write. ``raw_tables`` defines the raw
form, which only this package reads. Pure, except ``recipe_files``, which finds the files.
"""
