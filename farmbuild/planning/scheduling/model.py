"""The schedule as a constraint model: some tasks free, the others where they are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection
from dataclasses import dataclass

from ortools.sat.python import cp_model

from farmbuild.planning.scheduling.draft import Place
from farmbuild.planning.scheduling.problem import Problem
from farmbuild.planning.scheduling.room import Room
from farmbuild.planning.solver import plain_solver


@dataclass(frozen=True)
class Goal:
    """What is minimised: the sum of these, each times what it counts.

    ``late``: each late job, of which there are ``at_most_late``. ``after``: each slot that the schedule ends after
    ``ends``. ``beyond``: each slot that each free task with nothing free behind it ends after ``ends``. ``moved``:
    each free task that is not where it is published. ``each_end``: each slot of each free task's end.
    """

    late: int = 0
    at_most_late: int | None = None
    after: int = 1
    ends: int = 0
    beyond: int = 0
    moved: int = 0
    each_end: int = 0


@dataclass(frozen=True)
class Solved:
    places: dict[int, Place] | None
    bound: float
    proven: bool
    work: float
    clock: bool


class Model:
    def __init__(self, problem: Problem, room: Room, staying: dict[int, Place], horizon: int, goal: Goal) -> None:
        self.problem = problem
        self.room = room
        self.staying = staying
        self.horizon = horizon
        self.goal = goal
        self.model = cp_model.CpModel()
        self.start: dict[int, cp_model.IntVar] = {}
        self.end: dict[int, cp_model.LinearExprT] = {}
        self.size: dict[int, cp_model.IntVar | int] = {}
        #: By node, option: whether it is done so.
        self.chosen: dict[int, dict[int, cp_model.IntVar]] = {}
        #: By node, option and length.
        self.lengths: dict[int, dict[tuple[int, int], cp_model.IntVar]] = {}
        self.intervals: dict[tuple[int, int], cp_model.IntervalVar] = {}
        self._lanes: dict[int, list[tuple[cp_model.IntervalVar, int]]] = defaultdict(list)
        self._crews: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for k in room.first:
            self._add_task(k)
        self._add_waits()
        for lane in sorted(self._lanes):
            self._add_lane(lane)
        self._order: dict[tuple[int, int], cp_model.IntVar] = {}
        for crew in sorted(self._crews):
            self._add_crew(crew)
        self._late: dict[int, cp_model.IntVar] = {}
        self._over: dict[int, cp_model.IntVar] = {}
        self._moved: dict[int, cp_model.IntVar] = {}
        self._add_goal()

    def _add_task(self, k: int) -> None:
        model, node = self.model, self.problem.nodes[k]
        options = {number: pieces for number, pieces in enumerate(self.room.pieces[k]) if pieces}
        by_length: dict[tuple[int, int], list[list[int]]] = defaultdict(list)
        for number, pieces in options.items():
            for piece in pieces:
                by_length[number, piece.length].append([piece.first, piece.last])
        lengths = sorted({length for _, length in by_length})
        domain = cp_model.Domain.from_intervals([pair for pairs in by_length.values() for pair in pairs])
        start = model.new_int_var_from_domain(domain, f"s{k}")
        self.start[k] = start
        if len(lengths) == 1:
            self.size[k] = lengths[0]
            self.end[k] = start + lengths[0]
        else:
            size = model.new_int_var_from_domain(cp_model.Domain.from_values(lengths), f"n{k}")
            end = model.new_int_var(self.room.first[k], self.room.last[k], f"e{k}")
            model.add(end == start + size)
            self.size[k], self.end[k] = size, end
        if len(by_length) == 1:
            self.chosen[k] = {next(iter(options)): model.new_constant(1)}
            self.lengths[k] = {}
        else:
            self._add_choice(k, options.keys(), by_length, len(lengths) > 1)
        for number in options:
            option = node.options[number]
            if option.duration == 0 or not (option.lanes or option.crews):
                continue
            if len(options) == 1:
                interval = model.new_interval_var(start, self.size[k], self.end[k], f"i{k}")
            else:
                literal = self.chosen[k][number]
                interval = model.new_optional_interval_var(start, self.size[k], self.end[k], literal, f"i{k}.{number}")
            self.intervals[k, number] = interval
            for lane, amount in option.lanes:
                self._lanes[lane].append((interval, amount))
            for crew in option.crews:
                self._crews[crew].append((k, number))

    def _add_choice(
        self,
        k: int,
        options: Collection[int],
        by_length: dict[tuple[int, int], list[list[int]]],
        many_lengths: bool,
    ) -> None:
        model = self.model
        literals = {key: model.new_bool_var(f"w{k}.{key[0]}.{key[1]}") for key in by_length}
        model.add_exactly_one(literals.values())
        for (number, length), literal in literals.items():
            domain = cp_model.Domain.from_intervals(by_length[number, length])
            model.add_linear_expression_in_domain(self.start[k], domain).only_enforce_if(literal)
            if many_lengths:
                model.add(self.size[k] == length).only_enforce_if(literal)
        self.lengths[k] = literals
        self.chosen[k] = {}
        for number in options:
            own = [literal for (other, _), literal in literals.items() if other == number]
            if len(options) == 1:
                self.chosen[k][number] = model.new_constant(1)
            elif len(own) == 1:
                self.chosen[k][number] = own[0]
            else:
                chosen = model.new_bool_var(f"c{k}.{number}")
                model.add(sum(own) == chosen)
                self.chosen[k][number] = chosen

    def _add_waits(self) -> None:
        for k in self.start:
            for j, lag in self.problem.nodes[k].before:
                if j in self.start:
                    self.model.add(self.start[k] >= self.end[j] + lag)

    def _add_lane(self, lane: int) -> None:
        held = self._lanes[lane]
        first, last = min(self.room.first.values()), max(self.room.last.values())
        steps = self.room.timeline.lanes[lane].steps(first, last)
        most = self.problem.lanes[lane].most
        if sum(amount for _, amount in held) + max((used for _, _, used in steps), default=0) <= most:
            return
        intervals = [interval for interval, _ in held]
        amounts = [amount for _, amount in held]
        for start, end, used in steps:
            intervals.append(self.model.new_fixed_size_interval_var(start, end - start, f"t{lane}.{start}"))
            amounts.append(used)
        if most == 1:
            self.model.add_no_overlap(intervals)
        else:
            self.model.add_cumulative(intervals, amounts, most)

    def _add_crew(self, crew: int) -> None:
        held = self._crews[crew]
        if len(held) < 2:
            return
        self.model.add_no_overlap([self.intervals[key] for key in held])
        travel = self.problem.travel
        for n, (i, a) in enumerate(held):
            for j, b in held[n + 1 :]:
                if i == j:
                    continue
                there = travel[self.problem.nodes[i].place][self.problem.nodes[j].place]
                back = travel[self.problem.nodes[j].place][self.problem.nodes[i].place]
                if not there and not back:
                    continue
                first, last = self.room.first, self.room.last
                if first[j] >= last[i] + there or first[i] >= last[j] + back:
                    continue
                both = [self.chosen[i][a], self.chosen[j][b]]
                before = self._before(i, j)
                self.model.add(self.start[j] >= self.end[i] + there).only_enforce_if([before, *both])
                self.model.add(self.start[i] >= self.end[j] + back).only_enforce_if([before.negated(), *both])

    def _before(self, i: int, j: int) -> cp_model.IntVar:
        if (i, j) not in self._order:
            self._order[i, j] = self.model.new_bool_var(f"b{i}.{j}")
        return self._order[i, j]

    def _add_goal(self) -> None:
        model, goal, nodes = self.model, self.goal, self.problem.nodes
        terms: list[cp_model.LinearExprT] = []
        end_of_stay = max((place[2] for k, place in self.staying.items() if k not in self.start), default=0)
        if goal.after:
            floor = max(goal.ends, end_of_stay)
            makespan = model.new_int_var(floor, max(floor, self.horizon), "makespan")
            for k in self.start:
                if self.room.last[k] > floor and not any(j in self.start for j, _ in nodes[k].following):
                    model.add(makespan >= self.end[k])
            self.makespan = makespan
            terms.append(goal.after * (makespan - goal.ends))
        if goal.late or goal.at_most_late is not None:
            late_anyway = {
                nodes[k].job
                for k, place in self.staying.items()
                if k not in self.start and (due := nodes[k].task.due) is not None and place[2] > due
            }
            for k in self.start:
                due = nodes[k].task.due
                if due is None or nodes[k].job in late_anyway or self.room.last[k] <= due:
                    continue
                job = nodes[k].job
                if job not in self._late:
                    self._late[job] = model.new_bool_var(f"late{job}")
                    if goal.late:
                        terms.append(goal.late * self._late[job])
                model.add(self.end[k] <= due).only_enforce_if(self._late[job].negated())
            terms.append(goal.late * len(late_anyway))
            if goal.at_most_late is not None:
                model.add(sum(self._late.values()) <= goal.at_most_late - len(late_anyway))
        if goal.beyond:
            for k in self.start:
                if self.room.last[k] > goal.ends and not any(j in self.start for j, _ in nodes[k].following):
                    over = model.new_int_var(0, self.room.last[k] - goal.ends, f"o{k}")
                    model.add(over >= self.end[k] - goal.ends)
                    self._over[k] = over
                    terms.append(goal.beyond * over)
        if goal.moved:
            for k in self.start:
                if nodes[k].task.published is not None:
                    terms.append(goal.moved * self._moves(k))
        if goal.each_end:
            terms.extend(goal.each_end * self.end[k] for k in self.start)
        model.minimize(sum(terms))

    def _moves(self, k: int) -> cp_model.IntVar | int:
        published = self.problem.nodes[k].task.published
        assert published is not None
        for number, option in enumerate(self.problem.nodes[k].options):
            if option.way != published.way:
                continue
            length = published.end - published.start
            for piece in self.room.pieces[k][number]:
                if piece.length == length and piece.first <= published.start <= piece.last:
                    moved = self.model.new_bool_var(f"m{k}")
                    self.model.add(self.start[k] == published.start).only_enforce_if(moved.negated())
                    self.model.add_implication(moved.negated(), self.chosen[k][number])
                    self._moved[k] = moved
                    return moved
        return 1

    def hint(self, places: dict[int, Place]) -> None:
        model = self.model
        for k, start in self.start.items():
            option, at, end = places[k]
            model.add_hint(start, at)
            size = self.size[k]
            if not isinstance(size, int):
                model.add_hint(size, end - at)
                model.add_hint(self.end[k], end)
            for key, literal in self.lengths[k].items():
                model.add_hint(literal, key == (option, end - at))
        for (i, j), before in self._order.items():
            model.add_hint(before, places[i][1] <= places[j][1])
        if self.goal.after:
            ends = [places[k][2] for k in self.start]
            floor = max(self.goal.ends, *(p[2] for k, p in self.staying.items() if k not in self.start), 0, 0)
            model.add_hint(self.makespan, max(floor, *ends, 0))
        for k, over in self._over.items():
            model.add_hint(over, max(0, places[k][2] - self.goal.ends))
        for job, late in self._late.items():
            due_broken = any(
                (due := self.problem.nodes[k].task.due) is not None and places[k][2] > due
                for k in self.start
                if self.problem.nodes[k].job == job
            )
            model.add_hint(late, due_broken)

    def solve(self, work: float, seconds: float, told: Callable[[], None] | None = None, **settings: object) -> Solved:
        solver = plain_solver()
        solver.parameters.linearization_level = 0
        solver.parameters.max_deterministic_time = max(work, 1e-3)
        solver.parameters.max_time_in_seconds = max(seconds, 1e-3)
        for name, value in settings.items():
            setattr(solver.parameters, name, value)
        if told is not None:
            solver.best_bound_callback = lambda _: told()
        status = solver.solve(self.model)
        proven = status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
        spent = solver.response_proto.deterministic_time
        clock = not proven and solver.wall_time >= seconds
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Solved(None, solver.best_objective_bound, proven, spent, clock)
        places = {k: self._place(solver, k) for k in self.start}
        return Solved(places, solver.best_objective_bound, proven, spent, clock)

    def _place(self, solver: cp_model.CpSolver, k: int) -> Place:
        start = int(solver.value(self.start[k]))
        end = int(solver.value(self.end[k]))
        option = next(number for number, literal in self.chosen[k].items() if solver.value(literal))
        return option, start, end
