"""Limits, gates and cautions: what stands between a balance on paper and a torch.

Nothing here approves anything. The functions say what a rule would allow, where the rule comes
from and how sure that is; local code and a licensed person decide.
"""
