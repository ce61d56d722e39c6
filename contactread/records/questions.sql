-- The questions of `questions.py`, each a statement under its name. In braces stands what is put in.

-- tries
SELECT {period} AS period, {person} AS person, count(*) AS jobs, sum(final.number) AS tries,
    round(avg(final.number), 3) AS tries_per_job, sum(final.number = 1) AS right_at_once,
    max(final.number) AS most_tries
FROM sign_off {job} JOIN try AS final ON final.id = final_try_id
WHERE outcome = 'done' AND signed_at >= ? AND signed_at < ?
GROUP BY period, person ORDER BY period, person

-- shims
-- A histogram by final shim: few rows, from which the median follows.
SELECT kind, final.pinion_shim_mm, count(*), sum(first.pinion_shim_mm), sum(final.number)
FROM sign_off JOIN job ON job.id = sign_off.job_id JOIN axle ON axle.id = job.axle_id
JOIN try AS final ON final.id = final_try_id
JOIN try AS first ON first.job_id = job.id AND first.number =
    (SELECT min(number) FROM try WHERE try.job_id = job.id AND try.struck IS NULL)
WHERE outcome = 'done' AND first.pinion_shim_mm IS NOT NULL AND final.pinion_shim_mm IS NOT NULL
GROUP BY kind, final.pinion_shim_mm ORDER BY kind, final.pinion_shim_mm

-- refusals
SELECT refusal, count(*) AS photos FROM reading
WHERE status = 'refused' AND {newest} GROUP BY refusal ORDER BY photos DESC, refusal

-- refused
SELECT reading.read_at AS read_at, refusal, photo.name AS photo, job_id AS job, try.number AS try,
    added_by, json_extract(json, '$.refusal.message') AS why, sha256
FROM reading JOIN photo ON photo.id = photo_id LEFT JOIN try ON try.id = photo.try_id
WHERE status = 'refused' AND {newest} ORDER BY reading.id DESC LIMIT ?

-- runout
-- A pattern that wanders from tooth to tooth, or a backlash that differs round the gear, hints at runout.
WITH wandering AS (
    SELECT photo.try_id AS try_id, max(spread_u) AS spread_u, max(spread_v) AS spread_v,
        max(wave_u) AS wave_u, max(wave_v) AS wave_v
    FROM reading JOIN photo ON photo.id = photo_id
    WHERE (spread_u > :length OR spread_v > :height OR wave_u > :swing_length OR wave_v > :swing_height)
        AND {newest} AND photo.try_id IS NOT NULL
    GROUP BY photo.try_id
), uneven AS (
    SELECT try_id, max(mm) - min(mm) AS spread_mm FROM backlash
    GROUP BY try_id HAVING max(mm) - min(mm) > :backlash
), named AS (SELECT try_id FROM wandering UNION SELECT try_id FROM uneven)
SELECT job_id AS job, number AS try, vehicle, kind AS axle, made_by AS person,
    spread_u AS pattern_spread_length, spread_v AS pattern_spread_height,
    wave_u AS pattern_swing_length, wave_v AS pattern_swing_height, spread_mm AS backlash_spread_mm,
    ring_runout_mm
FROM named JOIN try ON try.id = named.try_id AND try.struck IS NULL
JOIN job ON job.id = try.job_id AND job.struck IS NULL
JOIN axle ON axle.id = job.axle_id
LEFT JOIN wandering ON wandering.try_id = try.id LEFT JOIN uneven ON uneven.try_id = try.id
ORDER BY try.id DESC LIMIT :most

-- search
WITH found AS MATERIALIZED (
    SELECT rowid AS place, rowid / 8 AS key, rowid % 8 AS source, text FROM words
    WHERE words MATCH ? ORDER BY rowid DESC LIMIT ?
), placed AS (
    SELECT found.*, CASE source
        WHEN 0 THEN key WHEN 3 THEN key
        WHEN 1 THEN (SELECT job_id FROM try WHERE id = key)
        WHEN 2 THEN (SELECT job_id FROM photo JOIN try ON try.id = photo.try_id WHERE photo.id = key)
        ELSE (SELECT job_id FROM reading JOIN photo ON photo.id = reading.photo_id
              JOIN try ON try.id = photo.try_id WHERE reading.id = key)
    END AS job FROM found
)
SELECT job, CASE source WHEN 0 THEN 'job' WHEN 1 THEN 'try' WHEN 2 THEN 'photo' WHEN 3 THEN 'sign-off'
    ELSE 'reading' END AS found_in, vehicle, opened_at, placed.text AS words
FROM placed LEFT JOIN job ON job.id = placed.job ORDER BY place DESC

-- verdicts
WITH chosen AS (SELECT id FROM job WHERE struck IS NULL AND {chosen} ORDER BY id DESC LIMIT :most)
SELECT job.id AS job, opened_at, vehicle, axle_id, try.number AS try, pinion_shim_mm, ring_side_shim_mm,
    ring_side_notches, sign_off.outcome AS outcome,
    (SELECT verdict FROM advice WHERE try_id = try.id ORDER BY id DESC LIMIT 1) AS verdict,
    {centres}
FROM chosen JOIN job ON job.id = chosen.id LEFT JOIN sign_off ON sign_off.job_id = job.id
LEFT JOIN try ON try.job_id = job.id AND try.struck IS NULL
ORDER BY job.id DESC, try.number
