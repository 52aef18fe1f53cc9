"""What the planner answers: adopted only for the newest choice, and only while one is made."""

from __future__ import annotations

from kiosk.interlock.events import Event
from kiosk.interlock.facts import PlanFacts, PlannerAnswer
from kiosk.interlock.measure import minimum_of
from kiosk.interlock.moves import happen, take_plan
from kiosk.interlock.timer import reached
from kiosk.interlock.turn import Turn
from kiosk.limits import PLANNER_S


def hear(turn: Turn) -> None:
    """Adopt the plan that was asked for last, while a job is being chosen; nothing else."""
    answer, planning = turn.facts.planner, turn.memory.planning
    if answer is not None and (planning is None or answer.command_id != planning.command_id):
        _discard(turn, answer)
    elif answer is not None:
        _take_answer(turn, answer)
    elif planning is not None and reached(turn.now_s - planning.since_s, PLANNER_S):
        turn.drop_planner = True
        _refuse(turn, f"No plan within {PLANNER_S:.0f} s. Choose the job again.", None)


def _discard(turn: Turn, answer: PlannerAnswer) -> None:
    plan = answer.plan
    turn.note(
        "plan", change="discarded", digest=None if plan is None else plan.digest,
        job_id=None if plan is None else plan.job_id, words=answer.refused,
    )  # fmt: skip


def _take_answer(turn: Turn, answer: PlannerAnswer) -> None:
    plan = answer.plan
    if plan is None:
        _refuse(turn, answer.refused or "No plan was made.", None)
    elif (why := _objection(turn, answer.refused, plan)) is not None:
        _refuse(turn, why, plan)
    else:
        take_plan(turn, plan)
        happen(turn, Event.PLAN_ADOPTED)


def _objection(turn: Turn, refused: str | None, plan: PlanFacts) -> str | None:
    """Why the plan is none to work by; None when it is one."""
    if refused is not None:
        return refused
    if plan.refused is not None:
        return plan.refused
    if minimum_of(plan, turn.site) is None:
        return "The plan has no minimum for every gauge."
    return None if plan.zones else "The plan has no seats."


def _refuse(turn: Turn, words: str, plan: PlanFacts | None) -> None:
    job = turn.memory.planning.job if turn.memory.planning is not None else None
    turn.put(planning=None, refusal=words, refused_job=job)
    turn.note(
        "plan", change="refused", digest=None if plan is None else plan.digest,
        job_id=job if plan is None else plan.job_id, words=words,
    )  # fmt: skip
    happen(turn, Event.PLAN_REFUSED)
