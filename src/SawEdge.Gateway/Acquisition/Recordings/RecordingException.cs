namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>A file, or a list of files, cannot be read as recordings at all. The message is for the person who gave it.</summary>
public sealed class RecordingException : Exception
{
    /// <summary>States what is wrong and what would be right.</summary>
    public RecordingException(string message)
        : base(message)
    {
    }

    /// <summary>States what is wrong, and what the system said.</summary>
    public RecordingException(string message, Exception inner)
        : base(message, inner)
    {
    }
}
