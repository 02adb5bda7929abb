/* The plant's step in C: what a C compiler makes of the equations that the compiled kernel solves.
 *
 * The header is made from plant.packed.CASE_TYPE (`Case`) and plant.rows (names of rows); tables and tracks come packed as
 * the kernel takes them. `twin_full` is all that a plant step does but for noting truth. `twin_core` is the core alone: body
 * and wheels in seven degrees of freedom, motion along and across, springs, bars, stops, table dampers, valves, tyres that
 * can't pull, and what slopes and banks do. It holds where nobody steers, drives or brakes, tyres neither grip nor resist
 * rolling, and damper force doesn't fade.
 */
#include <math.h>
#include <string.h>
#include "case.h"

#define GRAVITY 9.80665

typedef struct { long at; double share, on; } Place;
typedef struct { double force, slope; } Damping;
typedef struct { double load, strut, ground, slope, along, side, loss; } Corner;
typedef struct { const Case *c; const double *tables, *tracks; long points; } World;

static inline double least(double a, double b) { return b < a ? b : a; }
static inline double most(double a, double b) { return b > a ? b : a; }
static inline double within(double x, double low, double high) { return least(most(x, low), high); }

static inline Place place(const Case *c, double distance)
{
    double at = distance * c->per_track_step, last = (double)(c->track_count - 1);
    if (at <= 0.0) return (Place){c->track_start, 0.0, 0.0};
    if (at >= last) return (Place){c->track_start + c->track_count - 2, 1.0, 0.0};
    long index = (long)at;
    return (Place){c->track_start + index, at - (double)index, 1.0};
}

static inline double wish(const World *w, int row, Place p)
{
    const double *t = w->tracks + row * w->points + p.at;
    return t[0] + p.share * (t[1] - t[0]);
}

/* Bilinear force over speed and duty: cells of equal width say near which row to look. */
static inline Damping surface(const double *t, double speed, double duty)
{
    long rows = (long)t[0], columns = (long)t[1], cells = (long)t[3], row, column = 0;
    const double *speeds = t + 4 + cells, *duties = speeds + 2 * rows;
    double cell = speed * t[2];
    row = cell < (double)cells ? (long)t[4 + (long)cell] : rows - 2;
    while (row < rows - 2 && speed >= speeds[row + 1]) row++;
    while (column < columns - 2 && duty >= duties[column + 1]) column++;
    double share = (duty - duties[column]) * duties[columns + column];
    const double *f = duties + 2 * columns + row * columns + column;
    double low = f[0] + share * (f[1] - f[0]), high = f[columns] + share * (f[columns + 1] - f[columns]);
    double slope = (high - low) * speeds[rows + row];
    return (Damping){low + (speed - speeds[row]) * slope, slope};
}

static inline double zone(const double *tables, long start, double travel)
{
    if (start < 0) return 1.0;
    const double *x = tables + start + 1;
    long points = (long)x[-1], i = 0;
    if (travel <= x[0]) return x[points];
    while (i < points - 2 && travel >= x[i + 1]) i++;
    double share = least((travel - x[i]) / (x[i + 1] - x[i]), 1.0);
    return x[points + i] + share * (x[points + i + 1] - x[points + i]);
}

static inline Damping damper(const World *w, const double *held, int k, double travel, double speed)
{
    const Case *c = w->c;
    double compression = held[REACHED + k], rebound = held[REACHED + 4 + k];
    double left = most(1.0 - c->oil_fade[k] * (held[OIL + k] - c->oil_reference[k]), 0.2), scale;
    Damping d;
    if (speed >= 0.0) {
        scale = left * c->compression_scale[k] * (1.0 + c->compression_crosstalk[k] * rebound) * zone(w->tables, c->compression_zone[k], travel);
        d = surface(w->tables + c->compression_map[k], speed, compression);
        return (Damping){scale * d.force, scale * d.slope};
    }
    scale = left * c->rebound_scale[k] * (1.0 + c->rebound_crosstalk[k] * compression) * zone(w->tables, c->rebound_zone[k], travel);
    d = surface(w->tables + c->rebound_map[k], -speed, rebound);
    return (Damping){-scale * d.force, scale * d.slope};
}

static inline double stops(const Case *c, int k, double travel, double speed)
{
    double crush = travel - c->bump_contact[k];
    if (crush <= 0.0 && travel >= 0.0) return 0.0;
    double turning = speed / sqrt(speed * speed + 0.01);
    if (travel < 0.0) return c->droop_rate[k] * travel * (1.0 - c->droop_loss[k] * turning);
    double bulged = crush / c->bump_doubling[k];
    double rubber = c->bump_rate[k] * crush * (1.0 + bulged * bulged) * (1.0 + c->bump_loss[k] * turning);
    return rubber + c->metal_rate[k] * most(travel - c->stroke[k], 0.0);
}

static inline double tyre(const Case *c, int k, double deflection, double speed)
{
    if (deflection <= 0.0) return 0.0;
    double rim = c->rim_rate[k] * most(deflection - c->rim_contact[k], 0.0);
    return most(c->tyre_rate[k] * deflection + rim + c->tyre_damping[k] * speed, 0.0);
}

/* One corner from ground to body; gives its wheel travel. */
static inline double corner(const World *w, const double *s, const double *held, int k, double *rate, Corner *q)
{
    const Case *c = w->c;
    double x = s[HUB + k] - (s[HEAVE] + c->side[k] * s[ROLL] - c->arm[k] * s[PITCH]) + c->extended_drop[k];
    double v = s[HUB_SPEED + k] - (s[HEAVE_SPEED] + c->side[k] * s[ROLL_RATE] - c->arm[k] * s[PITCH_RATE]);
    double rise = c->motion_ratio_rise[k], bend = c->motion_ratio_bend[k];
    double ratio = c->extended_ratio[k] + x * (rise + 0.5 * bend * x);
    double travel = x * (c->extended_ratio[k] + x * (0.5 * rise + x * bend / 6.0)), speed = ratio * v;
    int rigid = c->series_rate[k] <= 0.0;
    double through = rigid ? speed : s[OIL_SPEED + k];
    Damping d = damper(w, held, k, travel, through);
    rate[OIL_SPEED + k] = rigid ? 0.0 : (speed - through) * least(c->series_rate[k] / most(d.slope, 1.0), 1.5 / c->step);
    double friction = c->friction[k] * speed / sqrt(speed * speed + c->friction_speed * c->friction_speed);
    double pressed = most(travel - c->spring_contact[k], 0.0);
    double spring = pressed * (c->spring_rate[k] + 0.5 * c->spring_progression[k] * pressed)
        + c->second_rate[k] * most(travel - c->second_contact[k], 0.0) + c->gas_force[k] + c->gas_rate[k] * travel;
    q->loss = d.force * through + friction * speed;
    q->strut = ratio * (spring + stops(c, k, travel, speed) + d.force + friction);
    q->load = tyre(c, k, c->tyre_radius + q->ground - s[HUB + k], q->slope * s[SPEED] - s[HUB_SPEED + k]);
    return x;
}

static inline double drive_at(const Case *c, double throttle, double wheel)
{
    if (throttle <= 0.0) return 0.0;
    double full = least(c->drive_force, c->drive_power / most(wheel, 1.0));
    return throttle * full * within((c->top_wheel_speed - wheel) * 0.5, 0.0, 1.0);
}

static inline void grip(const Case *c, const double *s, int k, Corner *q)
{
    double over = q->load * c->per_static_wheel_load[k] - 1.0;
    double limit = c->grip * most(1.0 - c->grip_fade * over, 0.5) * q->load;
    double stretch = c->slip_growth == 0.0 ? 1.0 : 1.0 / most(1.0 + c->slip_growth * over, 0.3);
    double along = s[SLIP_ALONG + k] * stretch * c->per_drive_slip_scale, across = s[SLIP_ACROSS + k] * stretch * c->per_slip_scale;
    double share = limit / sqrt(1.0 + along * along + across * across);
    q->along = share * along;
    q->side = -share * across;
}

static inline double wheels(const Case *c, const double *s, const double *held, double *rate, Corner *q)
{
    double spun = 0.0;
    for (int axle = 0; axle < 2; axle++) {
        int first = 2 * axle;
        double steered = axle ? 0.0 : held[STEER];
        double drive = 0.5 * drive_at(c, held[THROTTLE], 0.5 * (s[WHEEL + first] + s[WHEEL + first + 1])) * (axle ? 1.0 - c->drive_front : c->drive_front);
        double brake = 0.5 * held[BRAKE] * c->brake_force * (axle ? 1.0 - c->brake_front : c->brake_front);
        double across = s[SIDE_SPEED] + c->arm[first] * s[YAW_RATE] - steered * s[SPEED];
        for (int k = first; k < first + 2; k++) {
            double speed = s[SPEED] - c->side[k] * s[YAW_RATE], turning = s[WHEEL + k], reach = fabs(speed) + 1.0;
            grip(c, s, k, &q[k]);
            double rolling = turning / sqrt(turning * turning + 0.09);
            double spin = drive - rolling * (brake + c->rolling_resistance * q[k].load) - q[k].along;
            rate[WHEEL + k] = spin * c->per_spin_mass[k];
            rate[SLIP_ALONG + k] = (turning - speed - reach * s[SLIP_ALONG + k]) * c->per_relaxation;
            rate[SLIP_ACROSS + k] = (across - reach * s[SLIP_ACROSS + k]) * c->per_relaxation;
            spun += spin;
        }
    }
    return spun;
}

static inline void motion(const World *w, const double *s, const double *held, double *rate, Corner *q, int full)
{
    const Case *c = w->c;
    double bank[2], axle_side[2], axle_ahead[2] = {0.0, 0.0}, yaw = 0.0, ahead = 0.0, left = 0.0, spun = 0.0;
    for (int axle = 0; axle < 2; axle++) {
        int l = 2 * axle, r = l + 1;
        Place p = place(c, s[DISTANCE] - axle * c->wheelbase);
        for (int side = 0; side < 2; side++) {
            const double *t = w->tracks + (GROUND_LEFT + side) * w->points + p.at;
            q[l + side].ground = t[0] + p.share * (t[1] - t[0]);
            q[l + side].slope = p.on * (t[1] - t[0]) * c->per_track_step;
        }
        double bar = corner(w, s, held, l, rate, &q[l]);
        bar = c->bar_rate[l] * (bar - corner(w, s, held, r, rate, &q[r]));
        q[l].strut += bar;
        q[r].strut -= bar;
        bank[axle] = (q[l].ground - q[r].ground) * c->per_track[l];
    }
    if (full) spun = wheels(c, s, held, rate, q);
    for (int axle = 0; axle < 2; axle++) {
        int l = 2 * axle, r = l + 1;
        double steered = axle ? 0.0 : held[STEER], sides = q[l].side + q[r].side;
        for (int k = l; k <= r; k++) {
            double along = q[k].along - q[k].load * q[k].slope;
            axle_ahead[axle] += along - steered * q[k].side;
            yaw -= c->side[k] * along;
        }
        ahead += axle_ahead[axle];
        axle_side[axle] = sides + steered * (q[l].along + q[r].along);
        double level = axle_side[axle] - (q[l].load + q[r].load) * bank[axle];
        left += level;
        yaw += c->arm[l] * level;
    }
    double turn = (yaw - c->mass_ahead * left) * c->per_yaw_inertia;
    ahead = ahead * c->per_total_mass + c->mass_ahead * s[YAW_RATE] * s[YAW_RATE];
    left = left * c->per_total_mass - c->mass_ahead * turn;
    rate[DISTANCE] = s[SPEED];
    rate[SPEED] = ahead + s[YAW_RATE] * s[SIDE_SPEED];
    rate[SIDE_SPEED] = left - s[YAW_RATE] * s[SPEED];
    rate[YAW_RATE] = turn;
    for (int k = 0; k < MOVING; k++) rate[k] = s[k + MOVING];

    double heave = 0.0, roll = 0.0, pitch = -c->pitch_lever * ahead - c->tyre_radius * spun;
    for (int k = 0; k < 4; k++) {
        q[k].strut += q[k].along * (q[k].along < 0.0 ? c->lift_braking[k] : c->lift_driving[k]);
        heave += q[k].strut;
        roll += c->side[k] * q[k].strut;
        pitch -= c->arm[k] * q[k].strut + c->tyre_radius * q[k].load * q[k].slope;
    }
    for (int axle = 0; axle < 2; axle++) {
        int l = 2 * axle, r = l + 1;
        double unsprung = c->unsprung_mass[l] + c->unsprung_mass[r];
        double sideways = left + c->arm[l] * turn + GRAVITY * bank[axle], through = axle_side[axle] - unsprung * sideways;
        double hubs = (s[HUB + l] - s[HUB + r]) * c->per_track[l];
        heave += through * bank[axle];
        pitch -= c->arm[l] * through * bank[axle];
        roll += (c->cg_height - c->roll_centre[l]) * (through + (q[l].strut + q[r].strut) * (s[ROLL] - hubs));
        double lift = (through * c->roll_centre[l] + unsprung * sideways * c->tyre_radius) * c->per_track[l];
        double carried = sideways * bank[axle] - GRAVITY;
        rate[HUB_SPEED + l] = (q[l].load - q[l].strut + lift) * c->per_unsprung_mass[l] + carried;
        rate[HUB_SPEED + r] = (q[r].load - q[r].strut - lift) * c->per_unsprung_mass[r] + carried;
    }
    rate[HEAVE_SPEED] = heave * c->per_sprung_mass - GRAVITY;
    rate[ROLL_RATE] = roll * c->per_roll_inertia;
    rate[PITCH_RATE] = pitch * c->per_pitch_inertia;
}

static inline double ohms(const Case *c, double coil) { return c->coil_resistance * (1.0 + c->coil_growth * (coil - 20.0)); }

static inline double wanted_magnet(const Case *c, int valve, double command, double coil)
{
    if (isnan(command)) return c->valve_deadband + (1.0 - c->valve_deadband) * c->unpowered[valve];
    double duty = command, ohm = ohms(c, coil);
    if (c->valve_resolution > 0.0) duty = c->valve_resolution * (double)(long)(duty / c->valve_resolution + 0.5);
    double shared = duty * c->supply / c->supply_reference * c->coil_resistance / ohm;
    double held = c->current_held * least(duty, c->supply / (ohm * c->full_current));
    return within(held + (1.0 - c->current_held) * shared, 0.0, 1.0);
}

static inline double followed(const Case *c, double now, double wanted)
{
    return wanted + (now - wanted) * (wanted > now ? c->rise_left : c->fall_left);
}

static inline double spool(const Case *c, double reached, double magnet)
{
    double dead = c->valve_deadband, play = c->valve_hysteresis;
    double wanted = dead > 0.0 ? most(magnet - dead, 0.0) / (1.0 - dead) : magnet;
    if (play <= 0.0) return wanted;
    double middle = within(0.5 * play + (1.0 - play) * reached, wanted - 0.5 * play, wanted + 0.5 * play);
    return within((middle - 0.5 * play) / (1.0 - play), 0.0, 1.0);
}

static inline void valves(const Case *c, double *held, const double *wanted, double *pending, long number, double *reached)
{
    long slots = c->delay_steps + 1, enters = number % slots, leaves = (number + 1) % slots;
    for (int k = 0; k < 8; k++) {
        pending[8 * enters + k] = wanted[k];
        double arrived = pending[8 * leaves + k], half = followed(c, held[MAGNET + k], arrived);
        held[MAGNET + k] = followed(c, half, arrived);
        reached[k] = spool(c, held[REACHED + k], half);
        reached[8 + k] = spool(c, reached[k], held[MAGNET + k]);
    }
}

static inline double moved(double now, double wanted, double reach) { return now + within(wanted - now, -reach, reach); }

static inline void driver(const World *w, const double *s, double *held)
{
    const Case *c = w->c;
    double speed = s[SPEED];
    Place here = place(c, s[DISTANCE]), ahead = place(c, s[DISTANCE] + c->preview * speed);
    double asked = c->speed_gain * (wish(w, WANTED_SPEED, here) - speed) + c->rolling_resistance * GRAVITY;
    asked *= 1.0 - wish(w, SPEED_FREE, here);
    double pull = c->drive_force > 0.0 ? asked * c->total_mass / c->drive_force : 0.0;
    double throttle = c->drive_force > 0.0 ? least(most(most(pull, wish(w, THROTTLE_FLOOR, here)), 0.0), 1.0) : 0.0;
    double brake = c->brake_force > 0.0 ? least(most(-asked * c->total_mass / c->brake_force, 0.0) + wish(w, EXTRA_BRAKE, here), 1.0) : 0.0;
    double curvature = wish(w, CURVATURE, ahead);
    double feed = curvature * (c->wheelbase + c->steer_feed * speed * speed);
    double angle = within(feed + c->yaw_gain * (curvature * speed - s[YAW_RATE]), -c->steer_limit, c->steer_limit);
    double steer = (1.0 - wish(w, STEER_HELD, here)) * angle + wish(w, EXTRA_STEER, here);
    held[THROTTLE] = moved(held[THROTTLE], throttle, c->pedal_rate * c->step);
    held[BRAKE] = moved(held[BRAKE], brake, c->pedal_rate * c->step);
    held[STEER] = moved(held[STEER], within(steer, -c->steer_limit, c->steer_limit), c->steer_rate * c->step);
}

static inline void warm_oil(const Case *c, const Corner *q, double speed, double *held)
{
    for (int k = 0; k < 4; k++) {
        double lost = (c->oil_cooling[k] + c->oil_draught[k] * fabs(speed)) * (held[OIL + k] - c->air_temperature);
        held[OIL + k] += c->step * (q[k].loss - lost) / c->oil_capacity[k];
    }
}

static inline void warm_coils(const Case *c, const double *command, double seconds, double *held)
{
    for (int k = 0; k < 8; k++) {
        double coil = held[COIL + k], current = isnan(command[k]) ? 0.0 : held[MAGNET + k] * c->full_current;
        double given = c->coil_cooling * (coil - held[OIL + k % 4]);
        held[COIL + k] += seconds * (current * current * ohms(c, coil) - given) / c->coil_capacity;
    }
}

static inline int run_away(const double *s)
{
    double total = 0.0, fastest = 0.0;
    for (int k = 0; k < STATE_SIZE; k++) total += s[k];
    for (int k = 0; k < 4; k++) fastest = most(fastest, fabs(s[HUB_SPEED + k]));
    return !isfinite(total) || fastest > 300.0;
}

/* One classic Runge-Kutta step; `rate` holds the rates at its start and then at its end. */
static inline void step(const World *w, double *s, double *rate, double *held, const double *reached, Corner *q, int full)
{
    double h = w->c->step, total[STATE_SIZE], trial[STATE_SIZE];
    static const double reach[3] = {0.5, 0.5, 1.0};
    memcpy(total, rate, sizeof total);
    memcpy(held + REACHED, reached, 8 * sizeof *held);
    for (int stage = 0; stage < 3; stage++) {
        for (int k = 0; k < STATE_SIZE; k++) trial[k] = s[k] + reach[stage] * h * rate[k];
        if (stage == 2) memcpy(held + REACHED, reached + 8, 8 * sizeof *held);
        motion(w, trial, held, rate, q, full);
        for (int k = 0; k < STATE_SIZE; k++) total[k] += (stage == 2 ? 1.0 : 2.0) * rate[k];
    }
    for (int k = 0; k < STATE_SIZE; k++) s[k] += h / 6.0 * total[k];
    if (full) driver(w, s, held);
    motion(w, s, held, rate, q, full);
    if (full) warm_oil(w->c, q, s[SPEED], held);
}

/* `row` as the kernel's row of a case; `kept`, (steps, STATE_SIZE), takes the state after each step where it isn't null. */
static inline long run(const World *w, const double *duty, long ticks, long steps, double *row, double *kept, int full)
{
    double *s = row, *rate = row + STATE_SIZE, *held = rate + STATE_SIZE, *pending = row + ROWS, wanted[8], reached[16];
    Corner q[4] = {{0}};
    for (long number = 0; number < ticks * steps; number++) {
        const double *command = duty + 8 * (number / steps);
        if (number % steps == 0)
            for (int k = 0; k < 8; k++) wanted[k] = wanted_magnet(w->c, k, command[k], held[COIL + k]);
        valves(w->c, held, wanted, pending, number, reached);
        step(w, s, rate, held, reached, q, full);
        if (run_away(s)) return number;
        if (kept) memcpy(kept + STATE_SIZE * number, s, STATE_SIZE * sizeof *s);
        if (full && number % steps == steps - 1) warm_coils(w->c, command, (double)steps * w->c->step, held);
    }
    return ticks * steps;
}

long twin_full(const Case *c, const double *tables, const double *tracks, long points, const double *duty, long ticks, long steps, double *row, double *kept)
{
    World w = {c, tables, tracks, points};
    return run(&w, duty, ticks, steps, row, kept, 1);
}

long twin_core(const Case *c, const double *tables, const double *tracks, long points, const double *duty, long ticks, long steps, double *row, double *kept)
{
    World w = {c, tables, tracks, points};
    return run(&w, duty, ticks, steps, row, kept, 0);
}
