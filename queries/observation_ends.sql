-- To which day a vehicle is under observation, so that no failure decides how far it is watched.
-- Row: one odometer segment of one vehicle that was seen there without trouble.
-- Key: vehicle, segment.
-- Grain: plain readings fold.
-- observed_day: :after_case_days days before the last plain reading of the segment. A later sighting is known only because
--   something failed. And had something failed in those last days, that reading would not be plain: to count them would
--   be to count days chosen for having no failure (read backwards, the day is a stopping time: nothing before it decided it).
-- A vehicle that retired can have no later plain reading. It is observed to its retirement if it would have had one all the
--   same: half its own days between plain readings (of :usual_days, where it has one such reading) and :after_case_days
--   days lie between retirement and the end of the records.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH plain AS (
    SELECT vehicle, segment, CAST(date AS BIGINT) AS day
    FROM readings
    WHERE plain = 1 AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
),
by_segment AS (
    SELECT vehicle, segment, MAX(day) AS last_day
    FROM plain
    GROUP BY vehicle, segment
),
retired AS (
    SELECT vehicle, CAST(retired_on AS BIGINT) AS retired_day
    FROM vehicles
    WHERE retired_on IS NOT NULL AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
),
rhythm AS (
    SELECT
        p.vehicle,
        MAX(r.retired_day) AS retired_day,
        MAX(p.day) - MIN(p.day) AS days,
        CAST(COUNT(DISTINCT p.day) AS BIGINT) - 1 AS times
    FROM retired AS r
    JOIN plain AS p ON r.vehicle = p.vehicle
    GROUP BY p.vehicle
),
left_over AS (
    SELECT
        r.vehicle,
        r.retired_day,
        c.end_day - r.retired_day - :after_case_days AS left_days,
        CASE WHEN r.times > 0 THEN r.days ELSE :usual_days END AS days,
        CASE WHEN r.times > 0 THEN r.times ELSE 1 END AS times
    FROM rhythm AS r
    CROSS JOIN last_days AS c
)
SELECT
    s.vehicle,
    s.segment,
    CASE WHEN 2 * l.left_days * l.times >= l.days THEN l.retired_day ELSE s.last_day - :after_case_days END AS observed_day
FROM by_segment AS s
LEFT JOIN left_over AS l ON s.vehicle = l.vehicle
