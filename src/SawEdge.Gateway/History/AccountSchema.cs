namespace SawEdge.Gateway.History;

/// <summary>
/// The tables of what is worked out from others: sums of whole shifts, and what has to be worked out anew. Triggers make a sum void in the
/// same transaction in which a cycle, a state, a reason or an entry about scrap of the time that it looked at changes, whoever
/// changes it: what stands there holds.
/// </summary>
internal static class AccountSchema
{
    /// <summary>The migration.</summary>
    public const string Sql = """
        -- Sums of where the time of whole shifts went. needs_from, needs_to: the time that was looked at for them. settings: of which calendar
        -- and which rules they are.
        CREATE TABLE account_sums(
            saw TEXT NOT NULL,
            begins_at INTEGER NOT NULL,
            ends_at INTEGER NOT NULL,
            settings INTEGER NOT NULL,
            needs_from INTEGER NOT NULL,
            needs_to INTEGER NOT NULL,
            data BLOB NOT NULL,
            PRIMARY KEY(saw, begins_at)
        ) STRICT, WITHOUT ROWID;
        CREATE INDEX account_sums_by_need ON account_sums(saw, needs_to);

        -- version rises with each change of what an account of the saw is made of. from_at, to_at: what changed and nobody has taken up yet;
        -- work_from, work_to: that of which the figures of the hours are being worked out. NULL: nothing.
        CREATE TABLE account_changes(
            saw TEXT PRIMARY KEY,
            version INTEGER NOT NULL,
            from_at INTEGER,
            to_at INTEGER,
            work_from INTEGER,
            work_to INTEGER
        ) STRICT, WITHOUT ROWID;
        INSERT INTO account_changes(saw, version, from_at, to_at) SELECT saw, 0, min(started_at), max(ended_at) FROM cycles GROUP BY saw;

        -- The figures of an hour of a saw as they were last worked out: seq rises with each that is new or differs.
        CREATE TABLE account_hours(
            saw TEXT NOT NULL,
            begins_at INTEGER NOT NULL,
            ends_at INTEGER NOT NULL,
            settings INTEGER NOT NULL,
            seq INTEGER NOT NULL,
            data BLOB NOT NULL,
            PRIMARY KEY(saw, begins_at)
        ) STRICT, WITHOUT ROWID;
        CREATE UNIQUE INDEX account_hours_by_seq ON account_hours(seq);

        -- The controller's scrap counter as it was last read.
        CREATE TABLE scrap_counters(
            saw TEXT PRIMARY KEY,
            value INTEGER NOT NULL
        ) STRICT, WITHOUT ROWID;

        -- Never holds a row: whoever puts one into it says that what is known of a saw changed in a time.
        CREATE VIEW account_change(saw, from_at, to_at) AS SELECT '', 0, 0 WHERE 0;
        CREATE TRIGGER account_changed INSTEAD OF INSERT ON account_change BEGIN
            INSERT INTO account_changes(saw, version) SELECT NEW.saw, 0 WHERE NOT EXISTS(SELECT 1 FROM account_changes WHERE saw = NEW.saw);
            UPDATE account_changes SET version = version + 1, from_at = min(ifnull(from_at, NEW.from_at), NEW.from_at), to_at = max(ifnull(to_at, NEW.to_at), NEW.to_at)
            WHERE saw = NEW.saw;
            DELETE FROM account_sums WHERE saw = NEW.saw AND needs_to >= NEW.from_at AND needs_from <= NEW.to_at;
        END;

        CREATE TRIGGER account_cycle_new AFTER INSERT ON cycles BEGIN
            INSERT INTO account_change VALUES(NEW.saw, NEW.started_at, NEW.ended_at);
        END;
        CREATE TRIGGER account_cycle_gone AFTER DELETE ON cycles BEGIN
            INSERT INTO account_change VALUES(OLD.saw, OLD.started_at, OLD.ended_at);
        END;
        CREATE TRIGGER account_cycle_other AFTER UPDATE ON cycles
        WHEN (OLD.saw, OLD.started_at, OLD.cut_started_at, OLD.cut_ended_at, OLD.ended_at, OLD.outcome, OLD.job, OLD.standard_cut_time_s, OLD.standard_cycle_time_s, OLD.part_count)
            IS NOT (NEW.saw, NEW.started_at, NEW.cut_started_at, NEW.cut_ended_at, NEW.ended_at, NEW.outcome, NEW.job, NEW.standard_cut_time_s, NEW.standard_cycle_time_s, NEW.part_count)
        BEGIN
            INSERT INTO account_change VALUES(OLD.saw, OLD.started_at, OLD.ended_at);
            INSERT INTO account_change VALUES(NEW.saw, NEW.started_at, NEW.ended_at);
        END;

        -- A segment that lasts is stored again and again, longer each time: only its new end is news. What REPLACE takes away fires no trigger
        -- of its own, so it is looked at before.
        CREATE TRIGGER account_state_longer BEFORE INSERT ON states
        WHEN EXISTS(SELECT 1 FROM states WHERE saw = NEW.saw AND started_at = NEW.started_at AND state = NEW.state AND reason IS NEW.reason AND job IS NEW.job)
        BEGIN
            INSERT INTO account_change SELECT saw, min(ended_at, NEW.ended_at), max(ended_at, NEW.ended_at) FROM states WHERE saw = NEW.saw AND started_at = NEW.started_at AND ended_at <> NEW.ended_at;
        END;
        CREATE TRIGGER account_state_other BEFORE INSERT ON states
        WHEN NOT EXISTS(SELECT 1 FROM states WHERE saw = NEW.saw AND started_at = NEW.started_at AND state = NEW.state AND reason IS NEW.reason AND job IS NEW.job)
        BEGIN
            INSERT INTO account_change VALUES(NEW.saw, NEW.started_at, max(NEW.ended_at, ifnull((SELECT ended_at FROM states WHERE saw = NEW.saw AND started_at = NEW.started_at), NEW.ended_at)));
        END;
        CREATE TRIGGER account_state_changed AFTER UPDATE ON states BEGIN
            INSERT INTO account_change VALUES(OLD.saw, OLD.started_at, OLD.ended_at);
            INSERT INTO account_change VALUES(NEW.saw, NEW.started_at, NEW.ended_at);
        END;
        CREATE TRIGGER account_state_gone AFTER DELETE ON states BEGIN
            INSERT INTO account_change VALUES(OLD.saw, OLD.started_at, OLD.ended_at);
        END;

        CREATE TRIGGER account_reason_new AFTER INSERT ON stop_reasons BEGIN
            INSERT INTO account_change VALUES(NEW.saw, NEW.from_at, NEW.to_at);
        END;
        CREATE TRIGGER account_reason_changed AFTER UPDATE ON stop_reasons BEGIN
            INSERT INTO account_change VALUES(OLD.saw, OLD.from_at, OLD.to_at);
            INSERT INTO account_change VALUES(NEW.saw, NEW.from_at, NEW.to_at);
        END;
        CREATE TRIGGER account_reason_gone AFTER DELETE ON stop_reasons BEGIN
            INSERT INTO account_change VALUES(OLD.saw, OLD.from_at, OLD.to_at);
        END;

        -- Scrap of a cut concerns the time of the cut, whenever it was entered.
        CREATE TRIGGER account_scrap_new AFTER INSERT ON scrap BEGIN
            INSERT INTO account_change SELECT NEW.saw, started_at, ended_at FROM cycles WHERE cycle_id = NEW.cycle_id;
            INSERT INTO account_change SELECT NEW.saw, NEW.at, NEW.at WHERE NEW.cycle_id IS NULL;
        END;
        CREATE TRIGGER account_scrap_changed AFTER UPDATE ON scrap BEGIN
            INSERT INTO account_change SELECT OLD.saw, started_at, ended_at FROM cycles WHERE cycle_id IN (OLD.cycle_id, NEW.cycle_id);
            INSERT INTO account_change SELECT OLD.saw, OLD.at, OLD.at WHERE OLD.cycle_id IS NULL;
            INSERT INTO account_change SELECT NEW.saw, NEW.at, NEW.at WHERE NEW.cycle_id IS NULL;
        END;
        CREATE TRIGGER account_scrap_gone AFTER DELETE ON scrap BEGIN
            INSERT INTO account_change SELECT OLD.saw, started_at, ended_at FROM cycles WHERE cycle_id = OLD.cycle_id;
            INSERT INTO account_change SELECT OLD.saw, OLD.at, OLD.at WHERE OLD.cycle_id IS NULL;
        END;
        """;
}
