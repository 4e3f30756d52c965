"""The same car as free rigid bodies: a translator from a car record to MuJoCo, and an equilibrium there.

What is taken from the record: its dimensions, masses and rates. What is taken from a solved state: the
in-plane tire forces, steer, side slip, demand and wheel speeds. Scalar laws (a coil's push at a length,
a tire's load at a squash) are the product's own. Everything else is found again by other means:
positions and constraint Jacobians by MuJoCo from free bodies and exact links, the equilibrium by SciPy
on MuJoCo's constraint residuals and generalized forces, gravity and inertia from the motion of the road
ribbon in fixed space, differentiated numerically.

World axes are the road frame that rides with the car. Body points are written in the drawn chassis axes.
"""

from __future__ import annotations

from dataclasses import dataclass

import mujoco
import numpy as np
from ribbon import Ride, cross
from scipy.optimize import least_squares

from ovalwright.mechanics.contact import coil_force, ramp, slack_angle, stop_force, touch_band
from ovalwright.mechanics.tire import wheel_load
from ovalwright.vehicle.record import CORNERS

FEATHER = 'mass="1e-9" diaginertia="1e-12 1e-12 1e-12"'
POINT = 'diaginertia="1e-9 1e-9 1e-9"'
HELD = ("x", "y", "yaw", "rack_x", "rack_y")
SIDES = ("left", "right")
RR = CORNERS.index("RR")
CONNECTED = 4 * 3
"""Rows of the four ball joints."""
CONSTRAINED = (
    "tie_left",
    "tie_right",
    "bar_link_left",
    "bar_link_right",
    "link_0",
    "link_1",
    "link_2",
    "link_3",
)


# ---------------- the bodies


def text(values):
    return " ".join(f"{float(v):.17g}" for v in np.ravel(values))


def site(name, at):
    return f'<site name="{name}" pos="{text(at)}"/>'


def upright_axes(car, side):
    """Kingpin, steering arm and their cross product, turned so that wheel and tie rod fit."""
    lower = car["ball_lower"][side]
    upper = car["upper_center"][side] + car["upper_radius"][side] * car["upper_e1"][side]
    king = (upper - lower) / np.linalg.norm(upper - lower)
    start = cross(king, [0.0, 1.0, 0.0])
    start /= np.linalg.norm(start)
    best = None
    for angle in np.linspace(-np.pi, np.pi, 2881):
        first = np.cos(angle) * start + np.sin(angle) * cross(king, start)
        axes = np.column_stack([king, first, cross(king, first)])
        if (axes @ car["spindle"][side])[1] < 0.8:
            continue
        outer = lower + axes @ np.array([car["tie_height"][side], car["tie_radius"][side], 0.0])
        miss = abs(np.linalg.norm(outer - car["tie_inner"][side]) - car["tie_length"][side])
        if best is None or miss < best[0]:
            best = miss, axes
    return best[1]


def arm_body(car, side, struts):
    name = SIDES[side]
    low = [site(f"{kind}_low_{side}", car[f"{kind}_low"][side]) for kind in struts]
    return f"""
      <body name="lower_{name}"><inertial pos="0 0 0" {FEATHER}/>
        <joint name="arm_{name}" type="hinge" pos="{text(car["arm_pivot"][side])}"
          axis="{text(car["arm_axis"][side])}"/>
        {"".join(low)}{site(f"bar_foot_{name}", car["bar_foot"][side])}
      </body>
      <body name="upper_{name}"><inertial pos="0 0 0" {FEATHER}/>
        <joint type="hinge" pos="{text(car["upper_center"][side])}" axis="{text(car["upper_axis"][side])}"/>
      </body>
      <body name="bar_{name}"><inertial pos="0 0 0" {FEATHER}/>
        <joint name="bar_{name}" type="hinge" pos="{text(car["bar_center"][side])}"
          axis="{text(cross(car["bar_e1"][side], car["bar_e2"][side]))}"/>
        {site(f"bar_tip_{name}", car["bar_center"][side] + car["bar_arm"][side] * car["bar_e1"][side])}
      </body>"""


def upright_body(car, side):
    axes = upright_axes(car, side)
    outer = [car["tie_height"][side], car["tie_radius"][side], 0.0]
    return f"""
      <body name="upright_{SIDES[side]}" pos="{text(car["ball_lower"][side])}"
        xyaxes="{text(axes[:, 0])} {text(axes[:, 1])}"><freejoint/>
        <inertial pos="{text(car["hub"][side])}" mass="{text(car["unsprung_mass"][side])}" {POINT}/>
        {site(f"tie_outer_{SIDES[side]}", outer)}
      </body>"""


def axle_body(car):
    ends = [site(f"link_axle_{i}", car["link_axle"][i]) for i in range(4)]
    low = [site(f"{kind}_low_{i}", car[f"{kind}_low"][i]) for kind in ("coil", "shock") for i in (2, 3)]
    return f"""
      <body name="axle" pos="{text(car["axle_origin"])}"><freejoint/>
        <inertial pos="{text(car["axle_cg"])}" mass="{text(car["axle_mass"])}" {POINT}/>{"".join(ends + low)}
      </body>"""


def model_of(car):
    """The MJCF text of a car."""
    kinds = ("coil", "shock")
    top = {i: "".join(site(f"{kind}_top_{i}", car[f"{kind}_top"][i]) for kind in kinds) for i in range(4)}
    frame_ends = "".join(site(f"link_frame_{i}", car["link_frame"][i]) for i in range(4))
    ties = "".join(site(f"tie_inner_{SIDES[s]}", car["tie_inner"][s]) for s in (0, 1))
    pairs = [(f"{kind}_{i}", f"{kind}_low_{i}", f"{kind}_top_{i}") for kind in kinds for i in range(4)]
    pairs += [(f"link_{i}", f"link_frame_{i}", f"link_axle_{i}") for i in range(4)]
    pairs += [(f"tie_{s}", f"tie_inner_{s}", f"tie_outer_{s}") for s in SIDES]
    pairs += [(f"bar_link_{s}", f"bar_foot_{s}", f"bar_tip_{s}") for s in SIDES]
    tendons = "".join(
        f'<spatial name="{n}"><site site="{a}"/><site site="{b}"/></spatial>' for n, a, b in pairs
    )
    joints = "".join(
        f'<connect body1="{arm}_{SIDES[s]}" body2="upright_{SIDES[s]}" anchor="{text(at)}"/>'
        for s in (0, 1)
        for arm, at in (
            ("lower", car["ball_lower"][s]),
            ("upper", car["upper_center"][s] + car["upper_radius"][s] * car["upper_e1"][s]),
        )
    )
    lengths = "".join(f'<tendon name="{name}" tendon1="{name}"/>' for name in CONSTRAINED)
    chassis = (
        ("x", "slide", "1 0 0"),
        ("y", "slide", "0 1 0"),
        ("heave", "slide", "0 0 1"),
        ("yaw", "hinge", "0 0 1"),
        ("pitch", "hinge", "0 1 0"),
        ("roll", "hinge", "1 0 0"),
    )
    freedoms = "".join(f'<joint name="{n}" type="{kind}" axis="{axis}"/>' for n, kind, axis in chassis)
    return f"""
<mujoco><compiler autolimits="false"/><option jacobian="dense" gravity="0 0 0"/>
  <worldbody>
    <body name="rear_half">{freedoms}
      <inertial pos="{text(car["rear_cg"])}" mass="{text(car["rear_mass"])}"
        diaginertia="{text(car["rear_inertia"])}"/>
      {top[2]}{top[3]}{frame_ends}
      <body name="fuel">
        <inertial pos="{text(car["fuel_cg"])}" mass="{text(car["fuel_mass"] + 1e-9)}" {POINT}/>
      </body>
      <body name="front_half">
        <joint name="twist" type="hinge" axis="1 0 0" pos="0 {text(car["twist_axis"])}"/>
        <inertial pos="{text(car["front_cg"])}" mass="{text(car["front_mass"])}"
          diaginertia="{text(car["front_inertia"])}"/>
        {top[0]}{top[1]}
        <body name="rack"><inertial pos="0 0 0" {FEATHER}/>
          <joint name="rack_x" type="slide" axis="1 0 0"/>
          <joint name="rack_y" type="slide" axis="0 1 0"/>{ties}
        </body>{arm_body(car, 0, kinds)}{arm_body(car, 1, kinds)}
      </body>
    </body>{upright_body(car, 0)}{upright_body(car, 1)}{axle_body(car)}
  </worldbody>
  <tendon>{tendons}</tendon><equality>{joints}{lengths}</equality>
</mujoco>"""


# ---------------- a wheel


@dataclass
class Touch:
    """One wheel's contact: where, along which axes, how hard, and how it slips."""

    hub: np.ndarray
    patch: np.ndarray
    force: np.ndarray
    couple: np.ndarray
    load: float
    slip_angle: float
    slip: float
    torque: float


def touch_of(hub, spindle, spin, inertia, drive, side, tire, ride, motion):
    """Contact of a wheel at a hub with a spin axis pointing left, given its in-plane forces [N]."""
    _, normal = ride.road(hub)
    reach = tire["free_radius"]
    for _ in range(40):
        radial = normal - (normal @ spindle) * spindle
        radial /= np.linalg.norm(radial)
        foot = hub - reach * radial
        height, normal = ride.road(foot)
        miss = (foot[2] - height) * normal[2] / (radial @ normal)
        reach += miss
        if abs(miss) < 1e-15:
            break
    squash = tire["free_radius"] - reach
    load = wheel_load(squash, tire["rate"])
    forward = cross(spindle, normal)
    forward /= np.linalg.norm(forward)
    left = cross(normal, forward)
    if ride.still:
        return Touch(hub, foot, load * normal, np.zeros(3), load, 0.0, 0.0, 0.0)
    travel = ride.velocity + cross(ride.spin, foot)
    radius = tire["free_radius"] - tire["radius_share"] * squash
    patch = foot + side / tire["side_rate"] * left
    force = load * normal + drive * forward + side * left
    asked = drive * radius + tire["rolling_resistance"] * load * radius
    asked += inertia * motion["acceleration"] / tire["free_radius"]
    shown = -spindle @ cross(patch - hub, force)
    couple = (shown - asked) * spindle - cross(ride.spin, inertia * spin * spindle)
    return Touch(
        hub,
        patch,
        force,
        couple,
        load,
        -np.arctan2(travel @ left, travel @ forward),
        spin * radius / (travel @ forward) - 1.0,
        asked,
    )


# ---------------- equilibrium


@dataclass
class Rest:
    """Where the other solver finds the car: loads [N], lengths [m], pose [m, rad], slips, leftovers."""

    loads: np.ndarray
    coils: np.ndarray
    shocks: np.ndarray
    coil_forces: np.ndarray
    pose: dict[str, float]
    slip_angles: np.ndarray
    slips: np.ndarray
    drift: np.ndarray
    torques: np.ndarray
    closure: float
    residual: float


class Bodies:
    """A car as free bodies under the forces of one solved state."""

    def __init__(self, car, motion, *, side_slip, steer, demand, spins, drive, side):
        self.car, self.motion = car, motion
        self.spins = (spins[0], spins[1], spins[2], spins[2])
        self.inertias = (*car["spin_inertia"][:2], 0.5 * car["spin_inertia"][2], 0.5 * car["spin_inertia"][2])
        self.drive, self.side, self.demand = drive, side, demand
        self.ride = Ride(motion, side_slip)
        self.side_slip = side_slip
        self.model = m = mujoco.MjModel.from_xml_string(model_of(car))
        self.data = mujoco.MjData(m)
        rods = [*car["tie_length"], *car["bar_link"], *car["link_length"]]
        for name, rod in zip(CONSTRAINED, rods, strict=True):
            drawn = m.tendon_length0[m.tendon(name).id]
            m.equality(name).data[0] = rod - drawn
        self.drawn = self.data.qpos.copy()
        pitman = car["pitman"]
        shift = 0.0 if pitman == 0.0 else pitman - np.copysign(np.sqrt(pitman**2 - steer**2), pitman)
        self.drawn[m.joint("rack_x").qposadr[0]] = shift
        self.drawn[m.joint("rack_y").qposadr[0]] = steer
        self.held = np.array([m.joint(name).dofadr[0] for name in HELD])
        self.free = np.setdiff1d(np.arange(m.nv), self.held)

    # -- forces

    def apply(self, body, force, torque, at):
        mujoco.mj_applyFT(
            self.model,
            self.data,
            np.asarray(force, float).reshape(3, 1),
            np.asarray(torque, float).reshape(3, 1),
            np.asarray(at, float).reshape(3, 1),
            self.model.body(body).id,
            self.loads,
        )

    def masses(self):
        m, d, ride = self.model, self.data, self.ride
        for b in np.flatnonzero(m.body_mass > 1e-6):
            axes = d.ximat[b].reshape(3, 3)
            inertia = axes @ np.diag(m.body_inertia[b]) @ axes.T
            couple = -(inertia @ ride.turn + cross(ride.spin, inertia @ ride.spin))
            self.apply(b, m.body_mass[b] * ride.push(d.xipos[b]), couple, d.xipos[b])

    def air(self):
        car, motion = self.car, self.motion
        q = 0.5 * motion["air_density"] * motion["speed"] ** 2
        zero = np.zeros(3)
        for half, sign, area in (("front_half", 1.0, 0), ("rear_half", -1.0, 1)):
            at = [sign * 0.5 * car["wheelbase"], 0.0, 0.0]
            self.apply(half, [0.0, 0.0, -q * car["down_area"][area]], zero, at)
        self.apply("rear_half", [-q * car["drag_area"], 0.0, 0.0], zero, [0.0, 0.0, car["drag_height"]])
        push = [0.0, -q * car["side_area"] * self.side_slip, 0.0]
        self.apply("rear_half", push, zero, car["side_point"])

    def ground(self):
        car = self.car
        for i in np.flatnonzero(car["ground_rate"]):
            half = "front_half" if car["ground_front"][i] > 0.5 else "rear_half"
            body = self.data.body(half)
            at = body.xpos + body.xmat.reshape(3, 3) @ car["ground_point"][i]
            height, normal = self.ride.road(at)
            rate = car["ground_rate"][i]
            push = rate * ramp((height - at[2]) * normal[2], touch_band(rate))
            rub = 0.0 if self.ride.still else car["ground_friction"]
            self.apply(half, [*(-rub * push * self.ride.ahead[:2]), push], np.zeros(3), at)

    def wheels(self):
        car, d = self.car, self.data
        touches = []
        for i in range(4):
            body = f"upright_{SIDES[i]}" if i < 2 else "axle"
            hub, spindle = (
                (car["hub"][i], car["spindle"][i])
                if i < 2
                else (car["axle_wheel"][i - 2], car["axle_spindle"][i - 2])
            )
            axes = d.body(body).xmat.reshape(3, 3)
            touch = touch_of(
                d.body(body).xpos + axes @ hub,
                axes @ spindle,
                self.spins[i],
                self.inertias[i],
                self.drive[i],
                self.side[i],
                car["tire"][i],
                self.ride,
                self.motion,
            )
            self.apply(body, touch.force, touch.couple, touch.patch)
            touches.append(touch)
        return touches

    def struts(self):
        car, m, d = self.car, self.model, self.data
        pushes = np.zeros(4)
        for i in range(4):
            coil, shock = m.tendon(f"coil_{i}").id, m.tendon(f"shock_{i}").id
            pushes[i] = coil_force(
                car["coil_free"][i] - d.ten_length[coil],
                car["coil_rate"][i],
                car["coil_bind"][i],
                car["bind_rate"][i],
            )
            stop = stop_force(
                car["stop_length"][i] - d.ten_length[shock],
                car["stop_rate"][i],
                car["stop_solid"][i],
                car["stop_exponent"][i],
                car["stop_bound_rate"][i],
            )
            rate = car["droop_rate"][i]
            droop = -rate * ramp(d.ten_length[shock] - car["droop_length"][i], touch_band(rate))
            self.loads += pushes[i] * self.line(coil) + (car["gas_force"][i] + stop + droop) * self.line(
                shock
            )
        return pushes

    def line(self, tendon):
        """Change of a tendon's length per unit of each freedom."""
        m = self.model
        entries = slice(m.ten_J_rowadr[tendon], m.ten_J_rowadr[tendon] + m.ten_J_rownnz[tendon])
        row = np.zeros(m.nv)
        row[m.ten_J_colind[entries]] = self.data.ten_J[entries]
        return row

    def torsion(self):
        car, m, d = self.car, self.model, self.data
        angle = [d.qpos[m.joint(f"bar_{s}").qposadr[0]] for s in SIDES]
        torque = car["bar_rate"] * slack_angle(angle[0] - angle[1] + car["bar_preload"], car["bar_slack"])
        self.loads[m.joint("bar_left").dofadr[0]] -= torque
        self.loads[m.joint("bar_right").dofadr[0]] += torque
        twist = m.joint("twist")
        self.loads[twist.dofadr[0]] -= car["twist_rate"] * (d.qpos[twist.qposadr[0]] - car["twist_built_in"])

    def split(self):
        """Torque at the axle from the engine, at each front brake, at the rear brakes [N m]."""
        car = self.car
        ask = self.demand * car["tire"][RR]["free_radius"]
        if ask >= 0.0:
            return ask, 0.0, 0.0
        pads = min(ask + car["engine_drag"] * self.spins[RR], 0.0)
        return ask - pads, 0.5 * car["brake_front"] * pads, (1.0 - car["brake_front"]) * pads

    def lag(self):
        """Torque at the axle that speeds up engine and shafts [N m]."""
        car = self.car
        return car["driveline_inertia"] * self.motion["acceleration"] / car["tire"][RR]["free_radius"]

    def shaft(self):
        """The propshaft's torque on housing and engine, each against the other, and the rotor's momentum."""
        car = self.car
        engine, ratio = self.split()[0], car["shaft_ratio"]
        along = self.data.body("rear_half").xmat.reshape(3, 3)[:, 0]
        place = self.data.body("axle").xpos
        self.apply("axle", np.zeros(3), -(engine - self.lag()) / ratio * along, place)
        momentum = -car["driveline_inertia"] * self.spins[RR] / ratio * along
        self.apply("front_half", np.zeros(3), engine / ratio * along - cross(self.ride.spin, momentum), place)

    # -- solving

    def evaluate(self, x):
        """Generalized forces and misfits of the links at displacements of the freedoms and given pulls."""
        m, d = self.model, self.data
        move = np.zeros(m.nv)
        move[self.free] = x[: self.free.size]
        d.qpos[:] = self.drawn
        mujoco.mj_integratePos(m, d.qpos, move, 1.0)
        mujoco.mj_fwdPosition(m, d)
        self.loads = np.zeros(m.nv)
        self.masses()
        self.air()
        self.ground()
        self.touches = self.wheels()
        self.pushes = self.struts()
        self.torsion()
        self.shaft()
        self.pulls = np.asarray(d.efc_J).reshape(d.nefc, m.nv)
        self.total = self.loads + self.pulls.T @ (x[self.free.size :] * self.car["weight"])
        self.misfit = d.efc_pos[: d.nefc].copy()
        return np.concatenate([self.total[self.free] / self.car["weight"], 100.0 * self.misfit])

    def slopes(self, x):
        """Derivatives of `evaluate`: differences for the freedoms, MuJoCo's own Jacobian for the pulls."""
        here = self.evaluate(x)
        table = np.zeros((x.size, x.size))
        table[: self.free.size, self.free.size :] = self.pulls.T[self.free]
        for k in range(self.free.size):
            aside = x.copy()
            aside[k] += 1e-7
            table[:, k] = (self.evaluate(aside) - here) / 1e-7
        return table

    def rest(self):
        """The equilibrium, looked for from the car as drawn."""
        x = np.zeros(self.free.size + CONNECTED + len(CONSTRAINED))
        found = least_squares(self.evaluate, x, self.slopes, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
        self.evaluate(found.x)
        m, d = self.model, self.data
        engine, front, rear = self.split()
        ask = [t.torque for t in self.touches]
        return Rest(
            loads=np.array([t.load for t in self.touches]),
            coils=np.array([d.ten_length[m.tendon(f"coil_{i}").id] for i in range(4)]),
            shocks=np.array([d.ten_length[m.tendon(f"shock_{i}").id] for i in range(4)]),
            coil_forces=self.pushes,
            pose={n: float(d.qpos[m.joint(n).qposadr[0]]) for n in ("heave", "roll", "pitch", "twist")},
            slip_angles=np.array([t.slip_angle for t in self.touches]),
            slips=np.array([t.slip for t in self.touches]),
            drift=self.total[self.held[:3]] / self.car["weight"],
            torques=np.array([ask[0] - front, ask[1] - front, ask[2] + ask[3] + self.lag() - engine - rear]),
            closure=float(np.abs(self.misfit).max()),
            residual=float(np.linalg.norm(found.fun)),
        )


def bodies_of(car, motion, u, corners):
    """The free bodies under the in-plane tire forces of a solved state of the 14 unknowns."""
    assert len(corners) == len(CORNERS)
    return Bodies(
        car,
        motion,
        side_slip=float(u[1]),
        steer=float(u[2]),
        demand=float(u[0]),
        spins=u[11:14],
        drive=corners["drive"],
        side=corners["side"],
    )
