namespace SawEdge.Gateway.History;

/// <summary>
/// What a person decides about entries of the journal that a consumer set aside: send again, or forget. For any process,
/// whether a gateway owns the folder or not. <see cref="HistoryReader.RefusalsAsync"/> lists them.
/// </summary>
public static class RefusedRows
{
    /// <summary>
    /// Sends again what was set aside: each entry comes into the journal once more, at its end. All consumers see it there; the
    /// same row again changes nothing for those that took it before.
    /// </summary>
    /// <param name="folder">The data folder; it holds a history of this program's version.</param>
    /// <param name="consumer">Name of the consumer that set them aside.</param>
    /// <param name="sequences">Their numbers in the journal.</param>
    /// <param name="now">When.</param>
    /// <exception cref="HistoryException">One of them is not set aside, and then nothing is changed; or the history cannot be written.</exception>
    public static void Retry(string folder, string consumer, IReadOnlyCollection<long> sequences, DateTimeOffset now) => Remove(folder, consumer, sequences, now);

    /// <summary>Forgets what was set aside: it is never sent. What it was about stays in the history.</summary>
    /// <inheritdoc cref="Retry(string, string, IReadOnlyCollection{long}, DateTimeOffset)"/>
    public static void Drop(string folder, string consumer, IReadOnlyCollection<long> sequences) => Remove(folder, consumer, sequences, null);

    private static void Remove(string folder, string consumer, IReadOnlyCollection<long> sequences, DateTimeOffset? again) =>
        OutsideWrite.Run(folder, (connection, transaction) =>
        {
            foreach (var sequence in sequences)
            {
                using var remove = OutsideWrite.Command(connection, transaction, "DELETE FROM refused WHERE consumer = @consumer AND seq = @seq", ("@consumer", consumer), ("@seq", sequence));
                if (remove.ExecuteNonQuery() == 0)
                    throw new HistoryException($"'{consumer}' has not set aside any message with number {sequence}; look again at what it has.");
                if (again is not { } at)
                    continue;
                using var enter = OutsideWrite.Command(
                    connection,
                    transaction,
                    "INSERT INTO journal(kind, saw, item, at) SELECT kind, saw, item, @at FROM journal WHERE seq = @seq",
                    ("@at", at.ToUnixTimeMilliseconds()),
                    ("@seq", sequence));
                if (enter.ExecuteNonQuery() == 0)
                    throw new HistoryException($"What was set aside under number {sequence} is not in the journal any more, so it cannot be sent again; drop it instead.");
            }

            return true;
        });
}
