-- From one repair to the next failure: lives on the clock that starts anew at every repair.
-- Row: one change at one distance since the repair; distance_m is -1 for the count of repairs of a group.
-- Key: the columns of :who, the cylinder where asked for, cause, distance_m.
-- Grain: failures of known odometer fold. Every failure that counts is taken as repaired, a walk-in too: what follows its
--   repair is observed from 0 on. The life ends at the engine's next failure (of the same cause and cylinder where these are
--   told apart, else of any asked for, under the cause that one had) or where observation ends. An engine put in, or an odometer changed, ends it.
-- who and the period are those of the repair. repairs: all whose odometer is known; again_at_once: those followed by the next
--   failure at the same odometer, which leaves no distance to count; vehicles: those repaired.
WITH hits AS (
    SELECT
        1 AS every,
        vehicle, engine_no, engine_family, site, model_year, cause, cylinder, opened, odometer_m, confirmation, place
    FROM episodes
    WHERE chain > 0
-- each families
        AND engine_family IN (:families)
-- end
-- each unknown_family
        AND engine_family IS NULL
-- end
-- each model_years
        AND model_year IN (:model_years)
-- end
-- each causes
        AND cause IN (:causes)
-- end
-- each cylinders
        AND cylinder IN (:cylinders)
-- end
),
watched AS (
    SELECT
        vehicle, engine_no, segment, entry_date, :exit AS exit_date, entry_odometer_m,
        entry_odometer_m + :distance AS exit_odometer_m
    FROM spans
),
on_the_road AS (
    SELECT
        h.every, h.vehicle, h.engine_no, s.segment, h.engine_family, h.site, h.model_year, h.cause, h.cylinder, h.opened,
        h.odometer_m, h.confirmation, h.place
    FROM hits AS h
    JOIN watched AS s ON h.vehicle = s.vehicle AND h.engine_no = s.engine_no
    WHERE s.entry_date <= h.opened AND h.opened <= s.exit_date
        AND s.entry_odometer_m <= h.odometer_m AND h.odometer_m <= s.exit_odometer_m
),
repairs AS (
    SELECT DISTINCT ON (
        vehicle, engine_no, segment,
-- each by_cause
        cause,
-- end
-- each by_cylinder
        cylinder,
-- end
        opened, odometer_m
    )
        every, vehicle, engine_no, segment, engine_family, site, model_year, cause, cylinder, opened, odometer_m,
        confirmation, place
    FROM on_the_road
    ORDER BY
        vehicle, engine_no, segment,
-- each by_cause
        cause,
-- end
-- each by_cylinder
        cylinder,
-- end
        opened, odometer_m, -confirmation, place, cause, cylinder
),
with_next AS (
    SELECT
        every, vehicle, engine_no, segment, engine_family, site, model_year, cause, cylinder, opened, odometer_m,
        LEAD(odometer_m) OVER (
            PARTITION BY
                vehicle,
-- each by_cause
                cause,
-- end
-- each by_cylinder
                cylinder,
-- end
                engine_no, segment
            ORDER BY opened, odometer_m
        ) AS next_m,
        LEAD(cause) OVER (
            PARTITION BY
                vehicle,
-- each by_cause
                cause,
-- end
-- each by_cylinder
                cylinder,
-- end
                engine_no, segment
            ORDER BY opened, odometer_m
        ) AS next_cause
    FROM repairs
),
wanted AS (
    SELECT
        every, vehicle, engine_no, segment, engine_family, site, model_year, cylinder, opened, odometer_m, next_m,
        COALESCE(next_cause, cause) AS cause,
        ROW_NUMBER() OVER (
            PARTITION BY
-- each who
                :who,
-- end
-- each by_cause
                cause,
-- end
-- each by_cylinder
                cylinder,
-- end
                vehicle
            ORDER BY opened, odometer_m, engine_no
        ) AS turn
    FROM with_next
    WHERE CAST(opened AS BIGINT) > :before_first AND CAST(opened AS BIGINT) <= :last_day
-- each sites
        AND site IN (:sites)
-- end
),
parts AS (
    SELECT
        w.every, w.engine_family, w.site, w.model_year, w.cylinder, w.cause,
        CASE WHEN s.entry_odometer_m > w.odometer_m THEN s.entry_odometer_m - w.odometer_m ELSE 0 END AS from_m,
        LEAST(s.exit_odometer_m, COALESCE(w.next_m, s.exit_odometer_m)) - w.odometer_m AS to_m,
        CASE WHEN w.next_m IS NOT NULL AND w.next_m <= s.exit_odometer_m THEN 1 ELSE 0 END AS fails
    FROM wanted AS w
    JOIN watched AS s ON w.vehicle = s.vehicle AND w.engine_no = s.engine_no AND w.segment = s.segment
    WHERE s.exit_odometer_m > w.odometer_m
        AND s.entry_odometer_m < COALESCE(w.next_m, s.exit_odometer_m)
        AND s.exit_odometer_m > s.entry_odometer_m
        AND COALESCE(w.next_m, s.exit_odometer_m) > w.odometer_m
),
changes AS (
    SELECT
        every, engine_family, site, model_year, cylinder, cause, from_m AS distance_m,
        1 AS entered, 0 AS ended, 0 AS failed, 0 AS repairs, 0 AS again_at_once, 0 AS vehicles
    FROM parts
    UNION ALL
    SELECT
        every, engine_family, site, model_year, cylinder, cause, to_m AS distance_m,
        0 AS entered, 1 - fails AS ended, fails AS failed, 0 AS repairs, 0 AS again_at_once, 0 AS vehicles
    FROM parts
    UNION ALL
    SELECT
        every, engine_family, site, model_year, cylinder, cause, CAST(-1 AS BIGINT) AS distance_m,
        0 AS entered, 0 AS ended, 0 AS failed, 1 AS repairs,
        CASE WHEN next_m <= odometer_m THEN 1 ELSE 0 END AS again_at_once,
        CASE WHEN turn = 1 THEN 1 ELSE 0 END AS vehicles
    FROM wanted
)
SELECT
-- each who
    :who,
-- end
-- each by_cylinder
    cylinder,
-- end
    cause,
    distance_m,
    SUM(entered) AS entered,
    SUM(ended) AS ended,
    SUM(failed) AS failed,
    SUM(repairs) AS repairs,
    SUM(again_at_once) AS again_at_once,
    SUM(vehicles) AS vehicles
FROM changes
GROUP BY
-- each who
    :who,
-- end
-- each by_cylinder
    cylinder,
-- end
    cause,
    distance_m
ORDER BY
-- each who
    :who,
-- end
-- each by_cylinder
    cylinder,
-- end
    cause,
    distance_m
