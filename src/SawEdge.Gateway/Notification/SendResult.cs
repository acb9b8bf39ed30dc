namespace SawEdge.Gateway.Notification;

/// <summary>What became of a message at its receiver.</summary>
internal enum SendVerdict
{
    /// <summary>The receiver has it.</summary>
    Delivered,

    /// <summary>The receiver or the way to it is in trouble that passes by itself: wait and try again.</summary>
    Wait,

    /// <summary>Somebody has to mend an address, a right or a certificate: say so, and try again slowly.</summary>
    Mend,

    /// <summary>This message will never be taken: set it aside with the receiver's words.</summary>
    Refused,
}

/// <summary>What became of a message, with the receiver's words.</summary>
/// <param name="Verdict">What became of it.</param>
/// <param name="Words">The receiver's words, or what went wrong and what would help; cleaned; empty where delivered.</param>
/// <param name="RetryAfter">How long the receiver asks us to wait, or null.</param>
internal sealed record SendResult(SendVerdict Verdict, string Words = "", TimeSpan? RetryAfter = null)
{
    /// <summary>The receiver has it.</summary>
    public static SendResult Delivered { get; } = new(SendVerdict.Delivered);

    /// <summary>Who among several refused it for good although others have it, with their words; empty: nobody.</summary>
    public string PartlyRefused { get; init; } = "";

    /// <summary>Whether it is to be tried again.</summary>
    public bool IsTrouble => Verdict is SendVerdict.Wait or SendVerdict.Mend;
}
