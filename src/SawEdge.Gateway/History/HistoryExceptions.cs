namespace SawEdge.Gateway.History;

/// <summary>The history cannot be used; the message says where and what would help.</summary>
public class HistoryException : Exception
{
    /// <summary>States the trouble.</summary>
    public HistoryException(string message, Exception? inner = null)
        : base(message, inner)
    {
    }
}

/// <summary>Another gateway owns the data folder.</summary>
public sealed class HistoryInUseException : HistoryException
{
    /// <summary>States who owns which folder.</summary>
    /// <param name="folder">The data folder.</param>
    /// <param name="owner">Process id of the owner as it wrote it down, or null where that could not be read.</param>
    public HistoryInUseException(string folder, int? owner)
        : base(owner is null
            ? $"The data folder '{folder}' is in use by another gateway. Stop it, or give this one a data folder of its own."
            : $"The data folder '{folder}' is in use by another gateway (process {owner}). Stop it, or give this one a data folder of its own.")
    {
        Folder = folder;
        Owner = owner;
    }

    /// <summary>The data folder.</summary>
    public string Folder { get; }

    /// <summary>Process id of the owner, or null where that could not be read.</summary>
    public int? Owner { get; }
}

/// <summary>The history was written by a newer version of the program.</summary>
public sealed class HistoryNewerException : HistoryException
{
    /// <summary>States both versions.</summary>
    public HistoryNewerException(string path, int found, int known)
        : base($"The history '{path}' has schema version {found}, written by a newer version of this program, which knows versions up to {known}. Install that newer version, or use another data folder; nothing was changed.")
    {
        Found = found;
        Known = known;
    }

    /// <summary>The file's schema version.</summary>
    public int Found { get; }

    /// <summary>The newest schema version that this program knows.</summary>
    public int Known { get; }
}

/// <summary>The history's file is damaged, or is no history at all. It was not changed.</summary>
public sealed class HistoryCorruptException : HistoryException
{
    /// <summary>States what is wrong with which file.</summary>
    /// <param name="path">The file.</param>
    /// <param name="finding">What is wrong with it.</param>
    /// <param name="inner">What noticed it, or null.</param>
    public HistoryCorruptException(string path, string finding, Exception? inner = null)
        : base($"The history '{path}' is damaged or is no history of this program: {finding}. 'sawedge history check' says more, 'sawedge history restore FILE' puts a backup in its place; a gateway sets a damaged one aside at its start.", inner)
    {
        FilePath = path;
        Finding = finding;
    }

    /// <summary>The damaged file.</summary>
    public string FilePath { get; }

    /// <summary>What is wrong with it.</summary>
    public string Finding { get; }
}

/// <summary>The file is a whole database of another program. It was not changed, and is nobody's to set aside.</summary>
public sealed class HistoryForeignException : HistoryException
{
    /// <summary>States which file.</summary>
    public HistoryForeignException(string path)
        : base($"The file '{path}' is the database of another program, not a history. Name another data folder, or another file; nothing was changed.")
    {
        FilePath = path;
    }

    /// <summary>The file.</summary>
    public string FilePath { get; }
}
