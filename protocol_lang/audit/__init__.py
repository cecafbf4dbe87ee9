"""Many files at once: what is found in each, what is waived, what is new, and what nobody covers.

Values only. :func:`protocol_lang.audit.whole.audit` is the way in, and what comes out is in
:mod:`protocol_lang.audited`.
"""
