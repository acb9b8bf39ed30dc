namespace SawEdge.Gateway.Commands;

/// <summary>A command cannot do what was asked; the message is for the person who asked, and says what would be right.</summary>
public sealed class CommandException : Exception
{
    /// <summary>States what is wrong and what would be right.</summary>
    public CommandException(string message, Exception? inner = null)
        : base(message, inner)
    {
    }
}

/// <summary>What commands return to the shell.</summary>
public static class ExitCodes
{
    /// <summary>Done. What is wrong within recordings was said and does not change this.</summary>
    public const int Done = 0;

    /// <summary>The command line, or a file that it names, is wrong; nothing was done.</summary>
    public const int WrongInput = 1;

    /// <summary>Begun, and failed on the way; what was written so far is incomplete.</summary>
    public const int Failed = 2;

    /// <summary>Broken off by the user (128 + the number of the interrupt signal, as shells do).</summary>
    public const int Interrupted = 130;

    /// <summary>Whoever read the output has gone, as <c>head</c> does (128 + the number of the signal that ends other programs then).</summary>
    public const int ReaderGone = 141;
}
