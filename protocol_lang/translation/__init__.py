"""Translations: text files in the PO form, read with care and written whole.

``po`` reads and writes the form, ``catalogue`` is what a file says, ``refresh`` brings it up to
date, ``files`` finds it beside a protocol, ``messages`` serves the words of the program itself.

The form is that of the GNU gettext manual, section "The Format of PO Files"; programs and offices
of translators read it, and so does anybody with a text editor.
"""
