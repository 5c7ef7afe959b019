"""Better fillings from a first one: take a few motifs out, put others in, let all settle."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.greedy import CONTACT, kind_weights
from hingeleaf.fill.packing import Packing
from hingeleaf.fill.samples import AREA, LARGEST


@dataclass
class Knobs:
    tries: int = 1000
    keep: int = 4
    climb: int = 50
    most_out: int = 2
    overlap: float = 1.0
    heat: float = 0.003 * 24500
    power: float = 2.0
    around: float = 40.0
    grow_rounds: int = 40
    rest_rounds: int = 50
    growth: float = 0.006
    grow_shrink: float = 0.35
    rest_shrink: float = 0.35
    noise: float = 0.35
    floor: float = 0.5
    slack: float = 80.0
    slack_heat: float = 2.0
    balance: float = 0.03


class Improver:
    def __init__(self, packing: Packing, wishes: NDArray[np.float64], area: float, seed: int, knobs: Knobs) -> None:
        self.p = packing
        self.wishes = wishes
        self.area = area
        self.k = knobs
        self.rng = np.random.default_rng(seed)
        self.state = np.array([seed + 12345], np.uint64)
        self.current = self.worth(packing.poses, packing.kinds)
        self.best = (self.current, packing.poses.copy(), packing.kinds.copy())
        self.kinds_wanted = (wishes > 0).sum()
        self.log = []
        self.n = self.early = self.acc = self.fail = 0

    def worth(self, poses, kinds):
        t = self.p.samples.traits
        a = float((t[kinds, AREA] * (poses[:, 2] ** 2 + poses[:, 3] ** 2)).sum())
        c = np.bincount(kinds, minlength=len(self.wishes))
        s = c[c > 0] / c.sum()
        ent = -(s * np.log(s)).sum() / math.log(max(2, len(self.wishes)))
        return a - self.k.balance * self.area * (1 - ent)

    def hop(self, share: float) -> None:
        from hingeleaf.fill.search import best_place
        from hingeleaf.fill.settle import settle
        p, k, rng = self.p, self.k, self.rng
        heat = k.heat * max(0.0, 1 - share) ** k.power
        # where
        H, W = p.clearance.shape
        for _ in range(60):
            r = rng.integers(H); c = rng.integers(W)
            if p.clearance[r, c] > 0.2:
                break
        else:
            i = rng.integers(len(p.kinds))
            r = int((p.poses[i, 1] - p.frame[1]) / p.frame[2]); c = int((p.poses[i, 0] - p.frame[0]) / p.frame[2])
        x, y = p.frame[0] + c * p.frame[2], p.frame[1] + r * p.frame[2]
        sizes = p.sizes
        d = np.hypot(p.poses[:, 0] - x, p.poses[:, 1] - y) - 0.35 * sizes
        n_out = int(rng.integers(0, k.most_out + 1))
        order = np.argsort(d)
        out = order[:n_out] if rng.random() < 0.7 or n_out == 0 else rng.choice(order[: 2 * n_out], n_out, replace=False)
        old_poses, old_kinds = p.poses, p.kinds
        outp, outk = old_poses[out], old_kinds[out]
        keepm = np.ones(len(old_kinds), bool); keepm[out] = False
        p.poses, p.kinds = old_poses[keepm], old_kinds[keepm]
        spot = np.array([[x, y, 8.0, 0, 1]])
        boxp = np.vstack([spot, outp]); boxk = np.concatenate([[0], outk])
        big = p.window(boxp, boxk, 50.0)
        saved = p.clearance[big[0]:big[1], big[2]:big[3]].copy()
        p.renew(p.window(boxp, boxk, 7.0))
        inner = p.window(boxp, boxk, 0.0)
        n0 = len(p.kinds)
        rows, cols = slice(inner[0], inner[1]), slice(inner[2], inner[3])
        over = k.overlap * rng.random() if rng.random() < 0.8 else 0.0
        thr = 1.2 if n_out else 0.2
        count = 0
        floor = k.floor * (p.samples.traits[outk, AREA] * (outp[:, 2] ** 2 + outp[:, 3] ** 2)).max() if n_out else 0.0
        while count < 2 * n_out + 2:
            sub = p.clearance[rows, cols]
            cells = np.ascontiguousarray(np.argwhere(sub > thr) + (inner[0], inner[2]))
            if not len(cells):
                break
            w = kind_weights(p, self.wishes)
            if k.noise:
                w = w * np.exp(k.noise * rng.normal(size=len(w))); w /= w.max()
            if over:
                grid = p.clearance[big[0]:big[1], big[2]:big[3]]
            pl = best_place(p.clearance, p.facing, p.frame, p.samples.traits, p.samples.probes, w, cells, k.tries, k.keep, k.climb, CONTACT, over, floor if count == 0 else 0.0, self.state)
            if pl[6] <= 0:
                break
            p.add(pl, int(pl[5])); count += 1
        self.n += 1
        if n_out and self.worth(p.poses, p.kinds) < self.current - k.slack_heat * heat - k.slack:
            p.poses, p.kinds = old_poses, old_kinds
            p.clearance[big[0]:big[1], big[2]:big[3]] = saved
            self.early += 1
            return
        cc = np.vstack([[x, y], outp[:, :2]])
        dm = np.hypot(p.poses[:, None, 0] - cc[None, :, 0], p.poses[:, None, 1] - cc[None, :, 1]).min(1)
        sub = np.flatnonzero(dm < k.around + 85)
        free = (dm[sub] < k.around + 0.3 * p.sizes[sub]) | (sub >= n0)
        ps = p.poses[sub].copy(); ks = p.kinds[sub]
        args = (p.room, p.facing, p.frame, p.samples.fields, p.samples.traits, p.samples.probes, ps, ks, free, p.gap)
        settle(*args, k.grow_rounds, k.growth, k.grow_shrink, 0.0)
        left = settle(*args, k.rest_rounds, 0.0, k.rest_shrink, 0.015)
        self.log.append((n_out, count, self.worth(p.poses, p.kinds) - self.current, self.worth(np.vstack([p.poses[np.setdiff1d(np.arange(len(p.kinds)), sub)], ps]), np.concatenate([p.kinds[np.setdiff1d(np.arange(len(p.kinds)), sub)], ks])) - self.current, left, heat, share))
        ok = False
        if left < 0.06:
            newp = p.poses.copy(); newp[sub] = ps
            new = self.worth(newp, p.kinds)
            ok = new >= self.current + heat * math.log(max(1e-9, rng.random()))
        else:
            self.fail += 1
        if ok:
            ch = np.vstack([boxp, p.poses[sub][free], ps[free]]); chk = np.concatenate([boxk, ks[free], ks[free]])
            p.poses = newp
            p.renew(p.window(ch, chk, 7.0))
            self.current = new; self.acc += 1
            if new > self.best[0]:
                self.best = (new, p.poses.copy(), p.kinds.copy())
        else:
            p.poses, p.kinds = old_poses, old_kinds
            p.clearance[big[0]:big[1], big[2]:big[3]] = saved
            pass
