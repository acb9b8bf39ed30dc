using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification.Messages;

namespace SawEdge.Gateway.Notification;

/// <summary>How entries of the journal that waited leave together.</summary>
internal enum Gathering
{
    /// <summary>Each for itself.</summary>
    None,

    /// <summary>All of one group in one message that says so.</summary>
    Merge,

    /// <summary>Only the latest of one group: it tells a state, and what was before it is of no interest any more. Always in order; never given up.</summary>
    Latest,
}

/// <summary>The way out that a channel uses.</summary>
internal interface IOutlet : IAsyncDisposable
{
    /// <summary>The receiver, as it is named in messages; without secrets.</summary>
    string Receiver { get; }

    /// <summary>How entries that waited leave together.</summary>
    Gathering Gathering { get; }

    /// <summary>Whether an entry of the journal is to leave here.</summary>
    bool Takes(JournalEntry entry);

    /// <summary>What entries must have in common to leave together.</summary>
    string GroupOf(JournalEntry entry);

    /// <summary>Tries once.</summary>
    /// <param name="entries">What is to leave together, in order; never empty.</param>
    /// <param name="waited">Whether it was held up.</param>
    /// <param name="cancellation">Ends the try.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="OperationCanceledException">Cancelled by the caller.</exception>
    Task<SendResult> SendAsync(IReadOnlyList<JournalEntry> entries, bool waited, CancellationToken cancellation);
}

/// <summary>Hands a message to a receiver.</summary>
internal interface IMessageSender : IAsyncDisposable
{
    /// <summary>The receiver, as it is named in messages; without secrets.</summary>
    string Receiver { get; }

    /// <summary>Whether messages to one contact that waited are put together in one.</summary>
    bool Merges { get; }

    /// <summary>Whether it sends the pictures of a message on.</summary>
    bool ShowsPictures { get; }

    /// <summary>Tries once.</summary>
    /// <exception cref="OperationCanceledException">Cancelled by the caller.</exception>
    Task<SendResult> SendAsync(Message message, CancellationToken cancellation);
}
