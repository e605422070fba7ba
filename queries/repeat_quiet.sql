-- Vehicles without a failure, under observation in one unbroken window: counted by the events they were there for.
-- Row: one combination of the columns asked for, with the cuts before and up to which its vehicles were watched.
-- Key: the columns of :dimension, entry_step, exit_step.
-- Grain: windows fold by the number of cuts at or below their entry and their exit; windows without a cut inside fall out. Cuts
--   are the places of the failures that pass the filter, and repeat_marks.
-- Nothing but the cuts that a window holds enters a mean cumulative function or its variance, so the fold loses nothing.
-- :distance and :exit say how far a stretch counts, as in exposure. :source is spans, with :place main_site, where neither calendar nor site matters, else stretches. A stretch is cut at the end of a
--   day as in exposure; neighbouring stretches are put together again.
WITH wanted AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, :place AS site, entry_m, :distance AS distance_m,
        CAST(entry_date AS BIGINT) AS entry_day,
        CAST(:exit AS BIGINT) AS exit_day
    FROM :source
    WHERE :distance > 0 AND entry_m IS NOT NULL
-- each families
        AND engine_family IN (:families)
-- end
-- each sites
        AND :place IN (:sites)
-- end
-- each model_years
        AND model_year IN (:model_years)
-- end
),
cut AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, site, entry_m,
        CASE
            WHEN :before_first >= exit_day THEN distance_m
            WHEN :before_first <= entry_day THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:before_first - entry_day) / NULLIF(exit_day - entry_day, 0)) AS BIGINT)
        END AS left_m,
        CASE
            WHEN :last_day >= exit_day THEN distance_m
            WHEN :last_day <= entry_day THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:last_day - entry_day) / NULLIF(exit_day - entry_day, 0)) AS BIGINT)
        END AS right_m
    FROM wanted
),
parts AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, site,
        entry_m + left_m AS entry_m,
        entry_m + right_m AS exit_m
    FROM cut
    WHERE right_m > left_m
),
with_befores AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, site, entry_m, exit_m,
        LAG(exit_m) OVER (
            PARTITION BY vehicle, engine_no, segment
-- each by_site
            , site
-- end
            ORDER BY entry_m
        ) AS before_m
    FROM parts
),
with_starts AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, site, entry_m, exit_m,
        CAST(CASE WHEN before_m = entry_m THEN 0 ELSE 1 END AS BIGINT) AS starts
    FROM with_befores
),
numbered AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, site, entry_m, exit_m,
        SUM(starts) OVER (
            PARTITION BY vehicle, engine_no, segment
-- each by_site
            , site
-- end
            ORDER BY entry_m ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS piece
    FROM with_starts
),
watched AS (
    SELECT
        1 AS every,
        vehicle, engine_no, segment, engine_family, model_year,
-- each by_site
        site,
-- end
        MIN(entry_m) AS entry_m,
        MAX(exit_m) AS exit_m
    FROM numbered
    GROUP BY
        vehicle, engine_no, segment, engine_family, model_year,
-- each by_site
        site,
-- end
        piece
),
counted AS (
    SELECT
        every, vehicle, engine_no, segment, engine_family, model_year,
-- each by_site
        site,
-- end
        entry_m,
        exit_m,
        SUM(every) OVER (
            PARTITION BY vehicle
-- each by_site
            , site
-- end
        ) AS windows
    FROM watched
),
failing AS (
    SELECT DISTINCT vehicle, 1 AS failed FROM episodes
),
pairs AS (
    SELECT
        w.every,
-- each dimension
        w.:dimension,
-- end
        w.entry_m,
        w.exit_m,
        CAST(COUNT(*) AS BIGINT) AS vehicles
    FROM counted AS w
    LEFT JOIN failing AS f ON w.vehicle = f.vehicle
    WHERE w.windows = 1 AND f.failed IS NULL
    GROUP BY
        w.every,
-- each dimension
        w.:dimension,
-- end
        w.entry_m,
        w.exit_m
),
sets AS (
    SELECT DISTINCT
-- each dimension
        :dimension,
-- end
        every
    FROM pairs
),
every_cut AS (
    SELECT
        1 AS every,
-- each dimension
        :dimension,
-- end
        position_m AS at_m
    FROM episodes
    WHERE position_m IS NOT NULL
        AND (under_observation
-- each with_later
        OR after_last_visit
-- end
        )
-- each families
        AND engine_family IN (:families)
-- end
-- each sites
        AND site IN (:sites)
-- end
-- each model_years
        AND model_year IN (:model_years)
-- end
-- each cylinders
        AND cylinder IN (:cylinders)
-- end
-- each from
        AND opened >= :from
-- end
-- each to
        AND opened <= :to
-- end
-- each causes
        AND cause IN (:causes)
-- end
    UNION ALL
    SELECT
        p.every,
-- each dimension
        p.:dimension,
-- end
        k.at_m
    FROM sets AS p
    CROSS JOIN repeat_marks AS k
),
cuts AS (
    SELECT DISTINCT
        every,
-- each dimension
        :dimension,
-- end
        at_m
    FROM every_cut
),
on_the_clock AS (
    SELECT
        every,
-- each dimension
        :dimension,
-- end
        at_m,
        0 AS kind,
        CAST(1 AS BIGINT) AS cut,
        CAST(-1 AS BIGINT) AS entry_m,
        CAST(-1 AS BIGINT) AS exit_m,
        CAST(0 AS BIGINT) AS vehicles
    FROM cuts
    UNION ALL
    SELECT
        every,
-- each dimension
        :dimension,
-- end
        entry_m AS at_m,
        1 AS kind,
        CAST(0 AS BIGINT) AS cut,
        entry_m,
        exit_m,
        vehicles
    FROM pairs
    UNION ALL
    SELECT
        every,
-- each dimension
        :dimension,
-- end
        exit_m AS at_m,
        1 AS kind,
        CAST(0 AS BIGINT) AS cut,
        entry_m,
        exit_m,
        vehicles
    FROM pairs
),
stepped AS (
    SELECT
        every,
-- each dimension
        :dimension,
-- end
        entry_m,
        exit_m,
        vehicles,
        SUM(cut) OVER (
            PARTITION BY
-- each dimension
            :dimension,
-- end
            every
            ORDER BY at_m, kind ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS step
    FROM on_the_clock
),
ranked AS (
    SELECT
        every,
-- each dimension
        :dimension,
-- end
        entry_m,
        exit_m,
        MAX(vehicles) AS vehicles,
        MIN(step) AS entry_step,
        MAX(step) AS exit_step
    FROM stepped
    WHERE exit_m >= 0
    GROUP BY
        every,
-- each dimension
        :dimension,
-- end
        entry_m,
        exit_m
)
SELECT
-- each dimension
    :dimension,
-- end
    entry_step,
    exit_step,
    SUM(vehicles) AS vehicles
FROM ranked
WHERE entry_step < exit_step
GROUP BY
-- each dimension
    :dimension,
-- end
    entry_step,
    exit_step
ORDER BY
-- each dimension
    :dimension,
-- end
    entry_step,
    exit_step
