"""What a plan means for the builder: findings in plain words and in the builder's units."""

from ghostprep.optics.advice.collect import collect_findings as collect_findings
