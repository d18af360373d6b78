"""One sitting at the bench: what is begun, gone on with, written down and surveyed as left.

Terminal and page are two faces of it. Nothing here prints or asks: a face offers what was stopped,
opens the bench, and shows the events.
"""

from pitchwright.sitting.jobs import Job, ensemble_job, job_of, survey_job, trim_job, warmup_job
from pitchwright.sitting.sitting import Begun, Sitting

__all__ = [
    "Begun",
    "Job",
    "Sitting",
    "ensemble_job",
    "job_of",
    "survey_job",
    "trim_job",
    "warmup_job",
]
