"""What is asked of protocols: rules decided over all permitted orders and choices."""

from protocol_lang.rules.judging import Subject, judge_rules
from protocol_lang.rules.verdicts import Reason, RuleVerdict, Verdict

__all__ = ["Reason", "RuleVerdict", "Subject", "Verdict", "judge_rules"]
