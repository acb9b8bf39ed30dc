namespace SawEdge.Gateway.History;

/// <summary>Questions to the history by whoever goes on with its work: asked again until they are answered; trouble is said once when it begins and once when it ends. Not for two threads at once.</summary>
/// <param name="pause">How long to wait before a question is asked again.</param>
/// <param name="time">The clock for that.</param>
/// <param name="begins">Told why the history cannot be read.</param>
/// <param name="ends">Told that it can be read again.</param>
internal sealed class PatientReading(TimeSpan pause, TimeProvider time, Action<string> begins, Action ends)
{
    private bool _inTrouble;

    /// <summary>Asks until there is an answer.</summary>
    /// <exception cref="HistoryCorruptException">The history is damaged: it does not heal by waiting.</exception>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task<T> AskAsync<T>(Func<Task<T>> question, CancellationToken cancellation)
    {
        while (true)
        {
            try
            {
                var answer = await question();
                if (_inTrouble)
                    ends();
                _inTrouble = false;
                return answer;
            }
            catch (HistoryException e) when (e is not HistoryCorruptException)
            {
                if (!_inTrouble)
                    begins(e.Message);
                _inTrouble = true;
            }

            await Task.Delay(pause, time, cancellation);
        }
    }
}
