using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>What an error of SQLite means for us.</summary>
internal enum TroubleKind
{
    /// <summary>The disk, not the data: full, read-only, not readable, taken. It may pass; wait and try again.</summary>
    Storage,

    /// <summary>The file is damaged; trying again makes nothing better.</summary>
    Damage,

    /// <summary>What was asked for cannot be stored; everything else can.</summary>
    Request,
}

/// <summary>Sorts SQLite's errors; codes from https://www.sqlite.org/rescode.html (primary result codes).</summary>
internal static class SqliteTrouble
{
    /// <summary>What a primary result code means for us.</summary>
    public static TroubleKind Classify(int code) => code switch
    {
        3 /* PERM */ or 5 /* BUSY */ or 6 /* LOCKED */ or 7 /* NOMEM */ or 8 /* READONLY */ or 10 /* IOERR */ or 13 /* FULL */
            or 14 /* CANTOPEN */ or 15 /* PROTOCOL */ or 17 /* SCHEMA */ or 22 /* NOLFS */ => TroubleKind.Storage,
        11 /* CORRUPT */ or 26 /* NOTADB */ => TroubleKind.Damage,
        _ => TroubleKind.Request,
    };

    /// <summary>What an error means for us.</summary>
    public static TroubleKind Classify(SqliteException error) => Classify(error.SqliteErrorCode);

    /// <summary>The trouble in a person's words.</summary>
    public static string Describe(SqliteException error) => error.SqliteErrorCode switch
    {
        5 or 6 => "another program holds the database; close it",
        8 => "the disk or the file is read-only; give the right to write back",
        10 => $"the disk answered with an error ({error.SqliteExtendedErrorCode}); check it",
        11 => "what is read there makes no sense, or the disk answered with an error; check it",
        13 => "the disk is full; make room",
        14 => "the file cannot be opened; check the folder and its rights",
        _ => error.Message,
    };
}
