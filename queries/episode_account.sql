-- What became of the cases: the account of failure events at one confirmation level and comeback window.
-- Row: the whole store.
-- Key: none, one row.
-- Grain: failure events (by their primary cause) and cases without a finding that counts fold into counts.
WITH events AS (
    SELECT
        COUNT(*) AS events,
        SUM(CASE WHEN after_last_visit THEN 1 ELSE 0 END) AS after_last_visit,
        SUM(CASE WHEN under_observation OR after_last_visit THEN 0 ELSE 1 END) AS walk_ins,
        SUM(comebacks) AS comebacks,
        SUM(CASE WHEN odometer_m IS NULL THEN 1 ELSE 0 END) AS without_odometer,
        SUM(CASE WHEN position_m IS NULL THEN 1 ELSE 0 END) AS without_position,
        SUM(CASE WHEN cylinder IS NULL THEN 1 ELSE 0 END) AS without_cylinder,
        SUM(CASE WHEN engine_family IS NULL THEN 1 ELSE 0 END) AS without_family
    FROM episodes
    WHERE is_primary
),
all_causes AS (
    SELECT COUNT(*) AS episodes FROM episodes
),
others AS (
    SELECT COUNT(*) AS unconfirmed FROM unconfirmed_cases
)
SELECT
    a.events,
    b.episodes,
    COALESCE(a.after_last_visit, 0) AS after_last_visit,
    COALESCE(a.walk_ins, 0) AS walk_ins,
    COALESCE(a.comebacks, 0) AS comebacks,
    COALESCE(a.without_odometer, 0) AS without_odometer,
    COALESCE(a.without_position, 0) AS without_position,
    COALESCE(a.without_cylinder, 0) AS without_cylinder,
    COALESCE(a.without_family, 0) AS without_family,
    d.unconfirmed
FROM events AS a
CROSS JOIN all_causes AS b
CROSS JOIN others AS d
ORDER BY a.events
