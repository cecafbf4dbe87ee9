"""The report of an audit: for people to read, print and sign, and for programs.

::

    records of the audit
          |  gathered    the same finding of many files once, numbered; counts; what is to be done
          |  content     parts, forms and tables with their words
          |  text | html | pdf         the same content, set down in three ways
          +-------- sarif | csv        findings for programs

Each form has one function, ``render``. All are pure: equal audits give equal text and bytes.
"""
