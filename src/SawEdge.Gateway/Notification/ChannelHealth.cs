using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Notification;

/// <summary>Says what ails a channel, once when it begins and once when it ends, however often it is tried in between. A change from trouble that passes to trouble that somebody has to mend is said, too.</summary>
internal sealed class ChannelHealth(ILogger logger, TimeProvider time, string channel, string receiver)
{
    private volatile bool _inTrouble;
    private SendVerdict _trouble;
    private long _since;
    private long _setAside;

    /// <summary>Whether nothing is taken at the moment.</summary>
    public bool InTrouble => _inTrouble;

    /// <summary>Whether the receiver has been tried since the start, so that <see cref="InTrouble"/> says something.</summary>
    public bool IsKnown { get; private set; }

    /// <summary>Nothing was taken.</summary>
    public void Trouble(SendResult result)
    {
        IsKnown = true;
        if (_inTrouble && _trouble == result.Verdict)
            return;
        if (!_inTrouble)
            _since = time.GetTimestamp();
        _trouble = result.Verdict;
        _inTrouble = true;
        if (result.Verdict == SendVerdict.Mend)
            NotificationLog.NeedsMending(logger, channel, receiver, result.Words);
        else
            NotificationLog.Waiting(logger, channel, receiver, result.Words);
    }

    /// <summary>The receiver took a message, or refused it as such.</summary>
    public void Answers()
    {
        IsKnown = true;
        if (!_inTrouble)
            return;
        _inTrouble = false;
        NotificationLog.Recovered(logger, channel, receiver, time.GetElapsedTime(_since));
    }

    /// <summary>Messages were set aside. The first of a row is said with its reason; the history lists all.</summary>
    public void SetAside(int messages, string reason)
    {
        if (_setAside == 0)
            NotificationLog.SetAside(logger, channel, receiver, reason);
        _setAside += messages;
    }

    /// <summary>A message was taken by everybody it was for.</summary>
    public void Taken()
    {
        if (_setAside == 0)
            return;
        NotificationLog.NothingRefusedAnyMore(logger, channel, receiver, _setAside);
        _setAside = 0;
    }
}
